"""`handtick probes`: what each probe's wire is."""

from __future__ import annotations

from pathlib import Path

from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.searching import searching, top_rate
from handtick.cli.table import Columns
from handtick.compare.files import read_trace
from handtick.compare.trace import line_names
from handtick.errors import Differs, UsageError
from handtick.probes import BUFFERS, FAULTS, LOOSE, TUG, UNKNOWN, WIRES, Probe, judge_probes, trusts_pulls
from handtick.quantities import tick_of
from handtick.wiring import Wiring

_ROWS = Columns(("probe", "name", "what it is", "after each half tick"), (5, -12, -16, -1))
_LOOKS = 4
_SHOWN = 60


def probes(common: Common, ticks: str, through: str | None, expect: Path | None) -> None:
    """Looks at all probes, makes ticks, and says what each wire is."""
    count = tick_of(ticks, 1)
    if through not in (None, WIRES, BUFFERS, TUG):
        raise UsageError(f"--through {through}: there are {WIRES}, {BUFFERS} and {TUG}")
    with searching(common) as (bench, printer):
        fields = bench.greeting.fields if bench.greeting is not None else {}
        if not fields["probes"]:
            raise UsageError("this board's pin profile has no probes; choose another with HANDTICK_PROFILE")
        now = bench.status().fields
        has_tug, chained = now["tug"] == "there", int(now["chained"])
        if through == TUG and not has_tug:
            raise UsageError('this board has no tug: set HANDTICK_PROFILE = "tug", with the resistors it pulls by')
        way = through or (TUG if has_tug else BUFFERS)
        should_move = set() if expect is None else _moving(expect, bench.wiring, count)
        bench.reset()
        pulled_up, pulled_down = _looks(bench, "up"), _looks(bench, "down")
        bench.ask("pull", "set")
        bench.ask("ignore_halt", count)
        made = bench.burst(count, min(top_rate(bench), "1000", key=float))
        trusted = trusts_pulls(str(fields["board"]), way)
        found = judge_probes(int(fields["probes"]), pulled_up, pulled_down, made, trusted, should_move, chained)
        _tell(printer, common.json, found, bench.wiring)
        if chained:
            printer.warn(f"no pull reaches the {chained} probes on the chain: who drives those can't be told")
        if not trusted:
            printer.warn(_why_unknown(way))
        faults = [each for each in found if each.state in FAULTS]
        if faults:
            raise Differs("; ".join(f"probe {each.number} {_words(each)}" for each in faults))


def _looks(bench: Bench, way: str) -> list[int]:
    bench.ask("pull", way)
    return [int(bench.status().fields["probes"]) for _ in range(_LOOKS)]


def _moving(path: Path, wiring: Wiring, count: int) -> set[int]:
    """The probes that move within so many ticks of a recorded run."""
    numbers = [probe for bus in wiring.shown for probe in bus.probes]
    rows = read_trace(path, wiring).rows[:count]
    moving = set()
    for bit, probe in enumerate(numbers):
        seen = {row.bits >> bit & 1 for row in rows if row.care >> bit & 1}
        if len(seen) > 1:
            moving.add(probe)
    return moving


def _tell(printer: Printer, as_json: bool, found: list[Probe], wiring: Wiring) -> None:
    names: dict[int, str] = {}
    for name, probe in zip(line_names(wiring), (each for bus in wiring.shown for each in bus.probes), strict=True):
        names[probe] = name if wiring.buses else ""
    if not as_json:
        printer.answer(_ROWS.heading())
    for each in found:
        strip = "".join("‾" if level else "_" for level in each.levels[:_SHOWN])
        printer.answer(
            _ROWS.row(each.number, names.get(each.number, ""), _words(each), "" if _is_dark(each) else strip),
            kind="probe",
            probe=each.number,
            name=names.get(each.number, ""),
            state=each.state,
            level=None if each.level is None else int(each.level),
            moves=each.moves,
            joined_to=list(each.others),
        )


def _is_dark(probe: Probe) -> bool:
    """Whether its samples say nothing of the machine."""
    return probe.state == LOOSE or (probe.state == UNKNOWN and not probe.moves)


def _words(probe: Probe) -> str:
    if probe.others:
        return f"joined to {', '.join(str(other) for other in probe.others)}"
    if probe.state == UNKNOWN:
        return "moves" if probe.moves else "unknown"
    if probe.level is None:
        return probe.state
    return f"{probe.state}: {'high' if probe.level else 'low'}"


def _why_unknown(way: str) -> str:
    if way == BUFFERS:
        return (
            "behind input buffers the board's pulls reach no wire: who is driven can't be told; without buffers say "
            "--through wires, with the tug --through tug"
        )
    return "an RP2350's pull-down may not pull a loose wire down: who is driven can't be told; the tug can tell it"
