"""Commands that compare a run with what it should have been: rewind, check against a model, compare."""

from __future__ import annotations

from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.searching import by_hand, raise_on, searching, tell_finding, top_rate
from handtick.compare import Finding, Trace, diagnose, trace_of
from handtick.compare.files import read_trace
from handtick.compare.trace import line_names, sampled
from handtick.errors import Differs, LogError, StoppedEarly, UsageError
from handtick.events import Tick
from handtick.lockstep import Lockstep, Recorded
from handtick.log import LogReader, Run
from handtick.model import Model
from handtick.quantities import rate_of, tick_of
from handtick.repeat import Repeat
from handtick.wiring import Wiring
from handtick_wire.messages import read_number


def rewind(common: Common, back: str | None, to: str | None, rate: str | None) -> None:
    """Goes back to an earlier tick: to the start and on again, verified against the log on the way."""
    if (back is None) == (to is None):
        raise UsageError("say how many ticks to go back, such as 3, or the tick to go to, with --to")
    wire_rate = None if rate is None else rate_of(rate)
    amount = tick_of(back, 1) if back is not None else tick_of(to or "")
    with searching(common) as (bench, printer):
        reset, now = bench.reset_number, bench.tick
        target = now - amount if back is not None else amount
        if target < 0 or target > now:
            raise UsageError(f"the clock is at tick {now}: it can be rewound to ticks 0 to {now}, not to {target}")
        assert bench.greeting is not None
        before = _logged(common, bench.greeting.boot, reset, target)
        ticks = Repeat(bench, by_hand).run_to(target, wire_rate or top_rate(bench), same_start=False)
        finding = diagnose(trace_of(before, bench.wiring), trace_of(ticks, bench.wiring))
        printer.answer(
            f"at tick {target}; {finding.compared} ticks compared with the log: {_way(finding)}",
            kind="rewound",
            tick=target,
            compared=finding.compared,
            first_difference=finding.tick,
        )
        raise_on(printer, bench.wiring, finding, ticks)


def check(common: Common, file: Path, ticks: str | None, rate: str | None) -> None:
    """Runs the machine and a model in lockstep, and rests at the first tick where they differ."""
    most = 1000 if ticks is None else tick_of(ticks, 1)
    wire_rate = None if rate is None else rate_of(rate)
    wiring = common.find_wiring()
    model = Model(file, wiring)
    with searching(common) as (bench, printer):
        lockstep = Lockstep(bench, model, Repeat(bench, by_hand))
        try:
            finding = lockstep.run(most, wire_rate)
        except StoppedEarly as stop:
            printer.answer(
                f"machine and model agree on {lockstep.agreed} ticks; then the clock stopped: {stop}",
                kind="checked",
                ticks=lockstep.agreed,
                first_difference=None,
            )
            return
        printer.answer(
            f"{finding.compared} ticks compared: machine and model "
            + ("agree" if finding.tick is None else f"differ at tick {finding.tick}"),
            kind="checked",
            ticks=finding.compared,
            first_difference=finding.tick,
        )
        raise_on(printer, wiring, finding, lockstep.last)


def _logged(common: Common, boot: int, reset: int, last: int) -> list[Tick]:
    """The ticks of the present boot and reset that the log has."""
    try:
        with LogReader.open(common.log_path) as log:
            return [
                Tick(row.boot, row.reset, row.tick, row.early, row.late, row.time_us, row.flags)
                for row in log.ticks(boot, reset, 1, last)
                if row.early is not None and row.late is not None
            ]
    except LogError:
        return []


def _way(finding: Finding) -> str:
    if not finding.compared:
        return "the log has none of them"
    return "the machine went the same way" if finding.tick is None else f"another way from tick {finding.tick} on"


def follow(common: Common, rate: str, length: int | None, file: str) -> None:
    """Runs a tick at a time beside a recorded trace, and rests at the first tick that differs."""
    wiring = common.find_wiring()
    trace = read_trace(Path(file), wiring, late=True)
    if not trace.rows:
        raise UsageError(f"{file} has no ticks; nothing could be compared")
    with searching(common) as (bench, printer):
        most = max(0, trace.rows[-1].tick - bench.tick) if length is None else length
        lockstep = Lockstep(bench, Recorded(trace, bench.tick), Repeat(bench, by_hand))
        finding = lockstep.go_on(most, rate)
        printer.answer(
            f"at tick {bench.tick}: {finding.compared} ticks compared with {file}",
            kind="checked",
            ticks=finding.compared,
            first_difference=finding.tick,
        )
        raise_on(printer, wiring, finding, lockstep.last)


def compare(common: Common, expected: str, seen: str, late: bool) -> None:
    """Compares two runs or files."""
    wiring = common.find_wiring()
    printer = Printer(common.json, common.quiet)
    same = _alike(common, expected, seen, late)
    if same:
        _tell_same(printer, same)
        return
    want, got = (_trace(common, wiring, each, late) for each in (expected, seen))
    rule = wiring.instruction
    starts = None
    if rule is not None:
        place = line_names(wiring).index(rule.start) if rule.start in line_names(wiring) else None
        if place is not None:
            starts = lambda row: row.bits >> place & 1 == rule.equals  # noqa: E731
    finding = diagnose(want, got, starts)
    if not finding.compared:
        raise UsageError(f"{expected} and {seen} have no tick in common; nothing was compared")
    if finding.tick is None:
        _tell_same(printer, finding.compared)
        return
    tell_finding(printer, wiring, finding)
    raise Differs(f"first difference at tick {finding.tick}: {', '.join(finding.lines)}")


def _tell_same(printer: Printer, ticks: int) -> None:
    printer.answer(f"no difference in {ticks} ticks", kind="compared", compared=ticks, first_difference=None)


def _alike(common: Common, expected: str, seen: str, late: bool) -> int:
    """How many ticks two runs of the log share, where every sample of them is the same; 0 for anything else."""
    one, other = read_number(expected), read_number(seen)
    if one is None or other is None:
        return 0
    with common.open_log() as log:
        count, same = log.alike(_run(log, one), _run(log, other), late)
    return count if same else 0


def _trace(common: Common, wiring: Wiring, name: str, late: bool) -> Trace:
    """A run of the log by its number, or a file."""
    number = read_number(name)
    if number is None:
        return read_trace(Path(name), wiring, late)
    with common.open_log() as log:
        return sampled(log.samples(_run(log, number), late), wiring)


def _run(log: LogReader, number: int) -> Run:
    runs = {run.id: run for run in log.runs()}
    if number not in runs:
        raise UsageError(f"the log has no run {number}; `handtick log list` lists those there are")
    return runs[number]
