"""`handtick log show`: what a log holds, in the order in which it happened."""

from __future__ import annotations

import sys
from collections import deque
from collections.abc import Iterable

from handtick.cli.common import Common
from handtick.cli.logs import chosen, run_object, run_words
from handtick.cli.printer import Printer
from handtick.cli.table import Columns, TickTable
from handtick.errors import UsageError
from handtick.export import tick_object
from handtick.flags import flag_words
from handtick.log import LogReader, Note, Tick
from handtick.quantities import span_of
from handtick.rules import Judge, read_rule
from handtick.rules.logged import logged_where
from handtick_wire.described import sentence
from handtick_wire.messages import read_number

_TICKS = Columns(("boot", "reset", "tick", "early", "late", "time (s)", ""), (10, 5, 8, 5, 5, 14, -1))


def show_log(common: Common, last: str | None, ticks: str | None, where: str | None = None) -> None:
    """Prints a log: all of it, the last so many ticks, the ticks of a span, or those where a rule holds."""
    most = None if last is None else read_number(last)
    if last is not None and not most:
        raise UsageError(f"--last {last}: give how many ticks, 1 or more")
    if most is not None:
        # No list is longer.
        most = min(most, sys.maxsize)
    span = None if ticks is None else span_of(ticks)
    wiring = common.find_wiring()
    rule = None if where is None else read_rule(where, wiring)
    with common.open_log() as log, log.one_instant():
        rows: Iterable[Tick]
        if rule is None and span is None and most is not None:
            rows = log.last_ticks(most)
        elif rule is None:
            rows = chosen(log, span)
        elif span is None:
            rows = logged_where(log, rule)
        else:
            rows = filter(Judge(rule).logged, chosen(log, span))
        if most is not None:
            rows = deque(rows, maxlen=most)
        if common.json:
            _show_objects(common, log, rows)
            return
        if common.quiet:
            return
        print(f"log {common.log_path} of board {log.board_id}")
        _show_runs(log)
        notes: dict[tuple[int, int, int], list[Note]] = {}
        for note in log.notes():
            notes.setdefault((note.boot, note.reset, note.tick), []).append(note)
        table = TickTable(wiring) if wiring.buses else None
        print(f"\n{table.heading() if table is not None else _TICKS.heading()}")
        for tick in rows:
            print(table.row(tick) if table is not None else _row(tick))
            for note in notes.get(tick.key, []):
                print(f"    note: {note.text}")


def _show_objects(common: Common, log: LogReader, rows: Iterable[Tick]) -> None:
    """The same as an object a line."""
    printer = Printer(as_json=True, quiet=common.quiet)
    wiring = common.find_wiring()
    for run in log.runs():
        printer.answer("", **run_object(run))
    for kind, found in (("gap", log.gaps()), ("unplaced", log.unplaced()), ("note", log.notes())):
        for each in found:
            printer.answer("", kind=kind, **each._asdict())
    for tick in rows:
        printer.answer("", **tick_object(tick, wiring))


def _show_runs(log: LogReader) -> None:
    for run in log.runs():
        asked, ticks, why = run_words(run)
        ticks = {"none": "no ticks"}.get(ticks, ticks if ticks.startswith("from") else f"ticks {ticks}")
        print(f"run: {run.started_utc}  boot {run.boot}, reset {run.reset}: {asked}: {ticks}: {why}")
    for gap in log.gaps():
        why = "their lines did not arrive" if gap.why == "link" else sentence(gap.why)
        print(f"gap: ticks {gap.first_tick} to {gap.last_tick} of boot {gap.boot}, reset {gap.reset}: {why}")
    for missing in log.unplaced():
        count = missing.count or "an unknown number of"
        print(f"gap: {count} ticks before reset {missing.reset} of boot {missing.boot}: {sentence(missing.why)}")
    damaged = len(log.damage())
    if damaged:
        print(f"damage: {damaged} places where what arrived was no whole line")


def _row(tick: Tick) -> str:
    early = "-" if tick.early is None else f"{tick.early:04X}"
    late = "-" if tick.late is None else f"{tick.late:04X}"
    seconds = f"{tick.time_us / 1e6:.6f}"
    return _TICKS.row(tick.boot, tick.reset, tick.tick, early, late, seconds, ", ".join(flag_words(tick.flags)))
