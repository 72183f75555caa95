"""How fast ticks get into a log, against SQLite alone."""

from __future__ import annotations

import sqlite3
import tempfile
import time
from collections.abc import Iterator, Sequence
from pathlib import Path

from benchmarks.heard import MILLION, events
from benchmarks.rows import Row, speed
from handtick.events import Block, Event, Tick
from handtick.log import LogWriter
from handtick.log.rows import TickRow
from handtick.recorder import Recorder

TITLE = "The log"
NOTE = (
    "From events to a closed file. SQLite alone has the same table and settings, the rows made before, one transaction."
)
_LINES = 100_000
_TABLE = """CREATE TABLE tick (boot INTEGER NOT NULL, reset INTEGER NOT NULL, tick INTEGER NOT NULL, early INTEGER,
    late INTEGER, time_us INTEGER NOT NULL, flags INTEGER NOT NULL, PRIMARY KEY (boot, reset, tick)) WITHOUT ROWID"""


def rows() -> Iterator[Row]:
    """Ticks from blocks and from lines, and the size of the file."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite3"
        yield _logged("ticks of blocks", path, list(events(MILLION, True)), "0.7 or more")
        yield Row("bytes a tick in the file", f"{path.stat().st_size / MILLION:.1f}", runs=1)
        yield _logged("ticks of text records", path, list(events(_LINES, False)), "")


def _logged(what: str, path: Path, heard: Sequence[Event], aim: str) -> Row:
    ticks = [row for event in heard if isinstance(event, Block | Tick) for row in _rows(event)]

    def ours() -> None:
        path.unlink(missing_ok=True)
        with LogWriter.open(path, "bench", time.time_ns()) as log:
            recorder = Recorder(log)
            for event in heard:
                recorder.take(event, time.time_ns())

    bare = path.with_name("bare.sqlite3")

    def floor() -> None:
        bare.unlink(missing_ok=True)
        connection = sqlite3.connect(bare, isolation_level=None)
        connection.execute("PRAGMA journal_mode = WAL")
        connection.execute("PRAGMA synchronous = FULL")
        connection.execute(_TABLE)
        connection.execute("BEGIN")
        connection.executemany("INSERT INTO tick VALUES (?, ?, ?, ?, ?, ?, ?)", ticks)
        connection.execute("COMMIT")
        connection.close()

    row = speed(what, ours, "`executemany` of the same rows", floor, len(ticks), aim=aim)
    with sqlite3.connect(path) as log:
        ((count,),) = log.execute("SELECT count(*) FROM tick")
    assert count == len(ticks), f"{count} of {len(ticks)} ticks in the log"
    return row


def _rows(event: Block | Tick) -> Iterator[TickRow]:
    if isinstance(event, Block):
        yield from event.rows()
    else:
        yield event.boot, event.reset, event.tick, event.early, event.late, event.time_us, event.flags
