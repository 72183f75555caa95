"""Commands that compare a run with what it should have been: rewind, check against a model, compare."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.searching import by_hand, check_compared, check_reach, raise_on, searching, tell_finding, top_rate
from handtick.compare import Diagnosis, Finding, Row, diagnose
from handtick.compare.files import read_followed, read_trace
from handtick.compare.logged import diagnose_logged, rows_beside
from handtick.compare.trace import Lines, line_names, side_by_side
from handtick.errors import Differs, StoppedEarly, UsageError
from handtick.lockstep import SHOWN, Lockstep, Recorded
from handtick.log import LogReader, Part, Run, Tick
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
        boot = bench.greeting.boot
        Repeat(bench, by_hand).go_to(target, wire_rate or top_rate(bench))
        before, again = (Part(boot, each, 1, target) for each in (reset, bench.reset_number))
        with common.open_log() as log:
            finding = diagnose_logged(log, Lines(bench.wiring), before, again)
            shown = _up_to(log, again, finding.tick)
        printer.answer(
            f"at tick {target}; {finding.compared} ticks compared with the log: {_way(finding)}",
            kind="rewound",
            tick=target,
            compared=finding.compared,
            first_difference=finding.tick,
        )
        raise_on(printer, bench.wiring, finding, shown)


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
            if not lockstep.agreed:
                raise
            _check_compared(file, lockstep)
            printer.answer(
                f"machine and model agree on {lockstep.compared} ticks; then the clock stopped: {stop}",
                kind="checked",
                ticks=lockstep.compared,
                first_difference=None,
            )
            return
        _check_compared(file, lockstep)
        printer.answer(
            f"{finding.compared} ticks compared: machine and model "
            + ("agree" if finding.tick is None else f"differ at tick {finding.tick}"),
            kind="checked",
            ticks=finding.compared,
            first_difference=finding.tick,
        )
        raise_on(printer, wiring, finding, lockstep.last)


def _check_compared(model: Path, lockstep: Lockstep) -> None:
    if not lockstep.compared:
        raise UsageError(f"{model}: the model says nothing of ticks 1 to {lockstep.agreed}; nothing was compared")


def _up_to(log: LogReader, part: Part, tick: int | None) -> list[Tick]:
    """Some ticks of a part of the log, up to one of them; none where that is None."""
    if tick is None:
        return []
    return list(log.ticks(part.boot, part.reset, max(part.first, tick - SHOWN), tick))


def _way(finding: Finding) -> str:
    if not finding.compared:
        return "the log has none of them"
    return "the machine went the same way" if finding.tick is None else f"another way from tick {finding.tick} on"


def follow(common: Common, rate: str, length: int | None, file: str) -> None:
    """Runs a tick at a time beside a recorded trace, and rests at the first tick that differs."""
    wiring = common.find_wiring()
    trace, late = read_followed(Path(file), wiring)
    with searching(common) as (bench, printer):
        most = max(0, trace.rows[-1].tick - bench.tick) if length is None else length
        check_reach(file, trace, bench.tick + 1, bench.tick + most)
        lockstep = Lockstep(bench, Recorded(trace, bench.tick), Repeat(bench, by_hand), late)
        finding = lockstep.go_on(most, rate)
        check_compared(file, finding)
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
    finding = _compared(common, wiring, expected, seen, late)
    if not finding.compared:
        raise UsageError(
            f"{expected} and {seen} have no tick in common at which both say something of the same line; "
            "nothing was compared"
        )
    if finding.tick is None:
        printer.answer(
            f"no difference in {finding.compared} ticks",
            kind="compared",
            compared=finding.compared,
            first_difference=None,
        )
        return
    tell_finding(printer, wiring, finding)
    raise Differs(f"first difference at tick {finding.tick}: {', '.join(finding.lines)}")


def _compared(common: Common, wiring: Wiring, expected: str, seen: str, late: bool) -> Finding:
    """Compares what two names stand for: a run of the log by its number, or a file."""
    lines, starts = Lines(wiring), _starts(wiring)
    one, other = read_number(expected), read_number(seen)
    files = [read_trace(Path(name), wiring, late) for name in (expected, seen) if read_number(name) is None]
    if len(files) == 2:
        return diagnose(files[0], files[1], starts)
    with common.open_log() as log:
        if one is not None and other is not None:
            return diagnose_logged(log, lines, _run(log, one).part, _run(log, other).part, late, starts)
        (file,) = files
        diagnosis = Diagnosis(lines.names, starts)
        if one is not None:
            diagnosis.take(side_by_side(rows_beside(file, log, lines, _run(log, one).part, late), file.rows))
        elif other is not None:
            diagnosis.take(side_by_side(file.rows, rows_beside(file, log, lines, _run(log, other).part, late)))
        return diagnosis.finding()


def _starts(wiring: Wiring) -> Callable[[Row], bool] | None:
    """Whether an instruction begins at a row; None where the wiring does not say, or not by one line."""
    rule, names = wiring.instruction, line_names(wiring)
    if rule is None or rule.start not in names:
        return None
    place = names.index(rule.start)
    return lambda row: row.bits >> place & 1 == rule.equals


def _run(log: LogReader, number: int) -> Run:
    runs = {run.id: run for run in log.runs()}
    if number not in runs:
        raise UsageError(f"the log has no run {number}; `handtick log list` lists those there are")
    return runs[number]
