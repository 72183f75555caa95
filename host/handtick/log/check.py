"""Says of a tick log what is there, what is missing and what does not add up."""

import itertools
from collections.abc import Iterable, Iterator
from os import PathLike
from typing import Literal, NamedTuple, TypeVar

from handtick.errors import LogError
from handtick.log.reader import LogReader
from handtick.log.rows import Gap, Run
from handtick.log.schema import LARGEST, STRETCH
from handtick.log.spans import Span, merged, span_text, without
from handtick.log.traces import side_by_side

__all__ = ["Finding", "check"]

Kind = Literal["there", "missing", "wrong"]

_MOST = 20

_Row = TypeVar("_Row", Gap, Run)


class Finding(NamedTuple):
    """One thing found.

    Attributes:
        kind: `there` for what is as it should be, `missing` for ticks that a gap explains, `wrong` for what does not
            add up.
        text: One line for a person.
    """

    kind: Kind
    text: str


def check(path: str | PathLike[str]) -> list[Finding]:
    """Look through a whole log, also one that is being written.

    Args:
        path: The log file.

    Returns:
        Findings: what is there first. At most 20 of one sort are told one by one; the rest are counted.

    Raises:
        LogError: The file cannot be opened as a log.
    """
    findings: list[Finding] = []
    with LogReader.open(path) as log, log.one_instant():
        for part in _PARTS:
            try:
                findings += _few(part(log))
            except LogError as error:  # a damaged file: say so, and go on with what can be read
                findings.append(Finding("wrong", str(error)))
            except (TypeError, ValueError) as error:  # damage that SQLite did not see: text where a number was
                findings.append(Finding("wrong", f"the file is damaged, it holds a value that has no meaning: {error}"))
    return findings


def _few(findings: Iterable[Finding]) -> Iterator[Finding]:
    rest = iter(findings)
    yield from itertools.islice(rest, _MOST)
    more = 0
    for finding in rest:
        kind, more = finding.kind, more + 1
    if more:
        yield Finding(kind, f"... and {more} more like the last")


def _summary(log: LogReader) -> Iterator[Finding]:
    runs, boots = log.runs(), log.boots()
    ((ticks,),) = log.query("SELECT count(*) FROM tick")
    yield Finding("there", f"board {log.board_id!r}: {len(runs)} runs, {ticks} ticks, {len(boots)} boots")
    if runs:
        ends = [run.ended_utc for run in runs if run.ended_utc]
        yield Finding("there", f"from {runs[0].started_utc} to {ends[-1] if ends else 'now'}")
    notes, greetings = len(log.notes()), len(log.greetings())
    yield Finding("there", f"{notes} notes, {greetings} greetings")


def _integrity(log: LogReader) -> Iterator[Finding]:
    for (text,) in log.query("PRAGMA integrity_check"):
        if text != "ok":
            yield Finding("wrong", f"the file is damaged: {' '.join(str(text).split())}")


def _untraced(log: LogReader) -> Iterator[Finding]:
    for gap in log.gaps():
        span = (gap.first_tick, gap.last_tick)
        present = _count(log, gap.boot, gap.reset, span)
        came = f"; {present} of them came after all" if present else ""
        yield Finding("missing", f"{_where(gap.boot, gap.reset)}: {span_text(span)} without a row: {gap.why}{came}")
    for some in log.unplaced():
        where = f"boot {some.boot}, before reset {some.reset}"
        count = f"{some.count} ticks" if some.count else "nobody knows how many ticks"
        yield Finding("missing", f"{where}: {count} without a number: {some.why}")


def _absences(log: LogReader) -> Iterator[Finding]:
    """Hold the ticks that are there against the runs that made them and the gaps that explain the rest."""
    runs, gaps = _by_reset(log.runs()), _by_reset(log.gaps())
    for boot, reset in dict.fromkeys([*runs, *_resets(log)]):
        made = merged(_run_span(log, run) for run in runs.get((boot, reset), []))
        explained = merged((gap.first_tick, gap.last_tick) for gap in gaps.get((boot, reset), []))
        where = _where(boot, reset)
        for hole in without(_holes(log, boot, reset, made), explained):
            yield Finding("wrong", f"{where}: {span_text(hole)} missing, and no gap says why")
        for first, last in without([(0, LARGEST)], made):
            sql = f"SELECT count(*), min(tick), max(tick) FROM tick {_IN_SPAN}"
            count, least, most = next(log.query(sql, boot, reset, first, last))
            if count:
                yield Finding("wrong", f"{where}: {count} ticks of no run, from tick {least} to {most}")


def _runs(log: LogReader) -> Iterator[Finding]:
    for (boot, reset), runs in _by_reset(log.runs()).items():
        reached = 0
        for run in sorted(runs, key=lambda run: (run.first_tick, run.id)):
            name = f"{_where(boot, reset)}, run {run.id} ({run.asked})"
            first, last = _run_span(log, run)
            if run.last_tick is None:
                yield Finding("wrong", f"{name}: still open; right only while a program is logging")
            if last < first - 1:
                yield Finding("wrong", f"{name}: ends at tick {last}, before its first, {first}")
            elif first <= reached and first <= last:
                yield Finding("wrong", f"{name}: {span_text((first, min(reached, last)))} also in an earlier run")
            reached = max(reached, last)


def _gaps(log: LogReader) -> Iterator[Finding]:
    for (boot, reset), gaps in _by_reset(log.gaps()).items():
        reached = 0
        for first, last in sorted((gap.first_tick, gap.last_tick) for gap in gaps):
            if first <= reached:
                yield Finding("wrong", f"{_where(boot, reset)}: {span_text((first, min(reached, last)))} in two gaps")
            reached = max(reached, last)


def _conflicts(log: LogReader) -> Iterator[Finding]:
    for again in log.conflicts():
        for kept in log.ticks(again.boot, again.reset, again.tick, again.tick):
            changes = ", ".join(
                f"{name} {getattr(kept, name)} kept, {getattr(again, name)} came later"
                for name in ("early", "late", "time_us", "flags")
                if getattr(kept, name) != getattr(again, name)
            )
            yield Finding("wrong", f"{_where(again.boot, again.reset)}: tick {again.tick} came twice: {changes}")


def _times(log: LogReader) -> Iterator[Finding]:
    sql = """SELECT * FROM (SELECT reset, tick, time_us, lag(time_us) OVER (ORDER BY reset, tick) AS before
        FROM tick WHERE boot = ?) WHERE time_us < before"""
    for boot in log.boots():
        for reset, tick, time_us, before in log.query(sql, boot):
            text = f"the board's time goes back from {before} us to {time_us} us"
            yield Finding("wrong", f"{_where(boot, reset)}: at tick {tick} {text}")


def _edges(log: LogReader) -> Iterator[Finding]:
    """Between two greetings of one boot and reset, the edges on the pin and the tick numbers go up alike."""
    for before, after in itertools.pairwise(log.greetings()):
        edges, ticks = after.edges - before.edges, after.tick - before.tick
        if (before.boot, before.reset) == (after.boot, after.reset) and edges != ticks:
            text = f"{edges} edges but {ticks} ticks between the greetings at ticks {before.tick} and {after.tick}"
            yield Finding("wrong", f"{_where(after.boot, after.reset)}: {text}")


def _stretches(log: LogReader) -> Iterator[Finding]:
    """A search looks only where the stretches say that a sample is."""
    for column in ("early", "late"):
        sql = f"""SELECT count(*), min(tick) FROM tick WHERE {column} NOT NULL AND NOT EXISTS (
            SELECT 1 FROM stretch WHERE sample = {column} AND boot = tick.boot AND reset = tick.reset
            AND stretch = tick / {STRETCH})"""
        for count, tick in log.query(sql):
            if count:
                text = f"a search misses the {column} samples of {count} ticks, such as tick {tick}"
                yield Finding("wrong", f"{text}: their stretches do not have them")


def _traces(log: LogReader) -> Iterator[Finding]:
    """A comparison of runs reads the samples of a stretch instead of its rows."""
    for boot, reset, stretch, *kept in log.query("SELECT * FROM trace"):
        first, last = stretch * STRETCH, stretch * STRETCH + STRETCH - 1
        rows = list(log.query(f"SELECT early, late FROM tick {_IN_SPAN} ORDER BY tick", boot, reset, first, last))
        if len(rows) != STRETCH or [side_by_side(samples) for samples in zip(*rows, strict=True)] != kept:
            text = f"the trace of {span_text((first, last))} is not what their rows say"
            yield Finding("wrong", f"{_where(boot, reset)}: {text}, and a comparison of runs is wrong there")


def _damage(log: LogReader) -> Iterator[Finding]:
    for damage in log.damage():
        near = "before any greeting" if damage.boot is None else f"near tick {damage.tick}"
        if damage.boot is not None and damage.reset is not None:
            near = f"{_where(damage.boot, damage.reset)}: {near}"
        lines = f", {damage.lines} lines missing" if damage.lines else ""
        yield Finding("wrong", f"{near}, {len(damage.raw)} bytes that are no line{lines}: {damage.raw[:40]!r}")


_PARTS = (
    _summary,
    _integrity,
    _untraced,
    _absences,
    _runs,
    _gaps,
    _conflicts,
    _times,
    _edges,
    _stretches,
    _traces,
    _damage,
)

_IN_SPAN = "WHERE boot = ? AND reset = ? AND tick BETWEEN ? AND ?"


def _where(boot: int, reset: int) -> str:
    return f"boot {boot}, reset {reset}"


def _count(log: LogReader, boot: int, reset: int, span: Span) -> int:
    return int(next(log.query(f"SELECT count(*) FROM tick {_IN_SPAN}", boot, reset, *span))[0])


def _by_reset(rows: Iterable[_Row]) -> dict[tuple[int, int], list[_Row]]:
    groups: dict[tuple[int, int], list[_Row]] = {}
    for row in rows:
        groups.setdefault((row.boot, row.reset), []).append(row)
    return groups


def _resets(log: LogReader) -> Iterator[tuple[int, int]]:
    """Give each boot and reset that has ticks, at one look into the index each."""
    sql = "SELECT boot, reset FROM tick WHERE (boot, reset) > (?, ?) ORDER BY boot, reset LIMIT 1"
    key = (-1, -1)
    while rows := list(log.query(sql, *key)):
        key = (rows[0][0], rows[0][1])
        yield key


def _run_span(log: LogReader, run: Run) -> Span:
    if run.last_tick is not None:
        return run.first_tick, run.last_tick
    sql = f"SELECT ifnull(max(tick), ? - 1) FROM tick {_IN_SPAN}"
    ((last,),) = log.query(sql, run.first_tick, run.boot, run.reset, run.first_tick, LARGEST)
    return run.first_tick, last


def _holes(log: LogReader, boot: int, reset: int, spans: Iterable[Span]) -> Iterator[Span]:
    """Give the tick numbers inside `spans` that have no row."""
    least_sql = f"SELECT min(tick) FROM tick {_IN_SPAN}"
    # Each tick looks ahead to the next, the last one to the first number after the span.
    sql = f"""SELECT tick + 1, next - 1 FROM (
        SELECT tick, lead(tick, 1, ?) OVER (ORDER BY tick) AS next FROM tick {_IN_SPAN}) WHERE next > tick + 1"""
    for first, last in spans:
        ((least,),) = log.query(least_sql, boot, reset, first, last)
        if least is None:
            yield first, last
            continue
        if least > first:
            yield first, least - 1
        yield from ((start, end) for start, end in log.query(sql, last + 1, boot, reset, first, last))
