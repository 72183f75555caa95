"""Proves the lines of a bench just wired: supply, halt line, reset and clock."""

from __future__ import annotations

from collections.abc import Sequence

from handtick.bench import Bench
from handtick.wiring.guide import Talk
from handtick.wiring.model import Bus

#: Below this the machine counts as switched off, in millivolts.
LEAST_SUPPLY_MV = 2500

_TICKS = 8


def prove_lines(bench: Bench, talk: Talk, buses: Sequence[Bus]) -> bool:
    """Resets and steps the machine, says what that proves, and what to change where it does not.

    Nothing is driven before the machine's supply is on: measured where the board senses it, asked for where not.

    Returns:
        Whether supply, halt and reset are as they should be.
    """
    _wait_for_supply(bench, talk)
    bench.reset()
    start = _probes(bench)
    halted = bench.status().fields["halt_line"] == "asserted"
    if halted:
        talk.tell(
            "halt: the machine holds its halt line right after reset. If it should not, its level is the other way "
            "round: change HANDTICK_HALT_ACTIVE in the board's settings."
        )
    else:
        talk.tell("halt: clear after reset, as it should be.")
    # One at a time: a step goes past a halt line that is asserted.
    moved = any(tick.late != start for _ in range(_TICKS) for tick in bench.step(1))
    bench.reset()
    returned = _probes(bench) == start
    if not moved:
        talk.tell(
            f"reset: no probe moved in {_TICKS} ticks. Is the clock line connected? If so, the machine stays in reset: "
            "change HANDTICK_RESET_ACTIVE in the board's settings."
        )
    elif not returned:
        talk.tell("reset: the machine moves, but does not come back to where it started. Is the reset line connected?")
    else:
        shown = ", ".join(f"{bus.name} {bus.text(bus.value(start))}" for bus in buses)
        talk.tell(f"reset: the machine moves when stepped, and starts again from {shown}.")
    return moved and returned and not halted


def _wait_for_supply(bench: Bench, talk: Talk) -> None:
    while True:
        supply = str(bench.status().fields["supply_mv"])
        if not supply.isdecimal():
            answer = talk.ask("This board does not sense the machine's supply. Is it on (yes or no)? ")
            if answer.lower() == "yes":
                return
            talk.tell("Nothing is driven before you say yes.")
        elif int(supply) >= LEAST_SUPPLY_MV:
            talk.tell(f"supply: {int(supply) / 1000:.2f} V.")
            return
        else:
            talk.ask(f"The machine's supply is at {int(supply) / 1000:.2f} V. Switch it on, then press Enter. ")


def _probes(bench: Bench) -> int:
    return int(bench.status().fields["probes"])
