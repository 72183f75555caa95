"""The clock engine's shortest phases for the documentation, from the program itself."""

from __future__ import annotations

from handtick_board.clock_program import ClockProgram

_HZ = 125_000_000
_LINES = (("clock", 2), ("inverse", 2), ("two-phase", 2), ("two-phase", 8))


def phase_table() -> str:
    """A row for every kind of output and each loop: shortest phases in cycles, and the rate they come to."""
    rows = [
        "| outputs | loop | shortest leading phase | shortest trailing phase | ticks a second at 125 MHz, at most |",
        "|---|---|---|---|---|",
    ]
    for outputs, dead_cycles in _LINES:
        program = ClockProgram(outputs, dead_cycles=dead_cycles)
        name = f"two-phase, dead time {dead_cycles}" if outputs == "two-phase" else outputs
        for traced in (False, True):
            lead, trail = program.least(traced)
            loop = "trace" if traced else "count"
            rows.append(f"| {name} | {loop} | {lead} | {trail} | {_HZ // (lead + trail):,} |")
    return "\n".join(rows) + "\n"
