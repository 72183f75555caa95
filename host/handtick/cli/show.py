"""`handtick log show`: what a log holds, in the order in which it happened."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from pathlib import Path

from handtick.cli.table import Columns, flag_words
from handtick.log import LogReader, Tick
from handtick_wire.described import sentence

_TICKS = Columns(("boot", "reset", "tick", "early", "late", "time (s)", ""), (4, 5, 8, 5, 5, 14, -1))


def show_log(path: Path, last: int | None) -> None:
    """Prints a log.

    Args:
        path: the log.
        last: how many ticks at the end; None for all.
    """
    with LogReader.open(path) as log:
        print(f"log {path} of board {log.board_id}")
        _show_runs(log)
        for gap in log.gaps():
            print(f"gap: ticks {gap.first_tick} to {gap.last_tick} of boot {gap.boot}, reset {gap.reset}: {gap.why}")
        for missing in log.unplaced():
            count = missing.count or "an unknown number of"
            print(f"gap: {count} ticks before reset {missing.reset} of boot {missing.boot}: {sentence(missing.why)}")
        damaged = len(log.damage())
        if damaged:
            print(f"damage: {damaged} places where what arrived was no whole line")
        print(f"\n{_TICKS.heading()}")
        ticks: Iterable[Tick] = log.all_ticks()
        for tick in ticks if last is None else deque(ticks, maxlen=last):
            print(_row(tick))


def _show_runs(log: LogReader) -> None:
    for run in log.runs():
        asked = run.asked.replace(":", " ")
        if run.last_tick is None:
            ticks, why = f"from tick {run.first_tick}", "still open"
        elif run.last_tick < run.first_tick:
            ticks, why = "no ticks", sentence(run.why or "")
        else:
            ticks, why = f"ticks {run.first_tick} to {run.last_tick}", sentence(run.why or "")
        print(f"run: {run.started_utc}  boot {run.boot}, reset {run.reset}: {asked}: {ticks}: {why}")


def _row(tick: Tick) -> str:
    early = "-" if tick.early is None else f"{tick.early:04X}"
    late = "-" if tick.late is None else f"{tick.late:04X}"
    seconds = f"{tick.time_us / 1e6:.6f}"
    return _TICKS.row(tick.boot, tick.reset, tick.tick, early, late, seconds, flag_words(tick.flags))
