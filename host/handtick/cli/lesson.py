"""`handtick lesson`: several boards on one clock, each against what a lesson expects."""

from __future__ import annotations

from pathlib import Path

from handtick.classroom.lesson import Watcher, load_lesson
from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.table import Columns
from handtick.compare.trace import Trace
from handtick.errors import Differs, UsageError
from handtick.log import LogReader
from handtick.wiring import Wiring


def lesson(common: Common, file: Path, logs: list[Path]) -> None:
    """Prints the first differing tick of each log."""
    printer = Printer(common.json, common.quiet)
    wiring = common.find_wiring()
    expect = load_lesson(file, wiring).expect
    if expect is None:
        raise UsageError(f'{file}: it expects nothing; name a trace in it: expect = "good.csv"')
    watched = [(path, _watched(path, expect, wiring)) for path in logs]
    columns = Columns(("log", "ticks", "first difference"), (-max(len(str(path)) for path in logs), 8, -1))
    if not common.json:
        printer.answer(columns.heading())
    differing = 0
    for path, watcher in watched:
        tick, lines = watcher.difference or (None, ())
        differing += tick is not None
        words = "; ".join(f"{bus} should be {want} and is {got}" for bus, want, got in lines)
        told = f"tick {tick}: {words}" if tick is not None else "none" if watcher.compared else "nothing to compare"
        printer.answer(
            columns.row(path, watcher.compared, told),
            kind="board",
            log=str(path),
            compared=watcher.compared,
            tick=tick,
            lines=[list(line) for line in lines],
        )
    if differing:
        raise Differs(f"{differing} of {len(logs)} boards differ from what the lesson expects")


def _watched(path: Path, expect: Trace, wiring: Wiring) -> Watcher:
    """The ticks of a log's last reset, compared."""
    watcher = Watcher(expect, wiring)
    with LogReader.open(path) as log:
        key = log.last_key()
        for row in log.ticks(key[0], key[1]) if key is not None else ():
            watcher.take(row)
    return watcher
