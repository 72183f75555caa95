"""Reads a tick log, also while another program writes it."""

from __future__ import annotations

import contextlib
import itertools
import json
import sqlite3
from collections.abc import Callable, Iterator
from os import PathLike
from pathlib import Path, PurePath
from types import TracebackType
from typing import Any, Self

from handtick.errors import LogError
from handtick.log.files import explaining, is_new
from handtick.log.rows import Conflict, Damage, Gap, Greeting, Key, Note, Part, Run, Tick, Unplaced
from handtick.log.schema import LARGEST, STRETCH

__all__ = ["LogReader"]

_BUSY_SECONDS = 1.0
_RUNS = """
SELECT id, boot, reset, first_tick, asked, started_ns, started_utc, last_tick, why, ended_ns, ended_utc
FROM run LEFT JOIN run_end ON run_end.run = run.id ORDER BY id"""

# Each boot a greeting or a run is of, in the order in which the last of them was logged; and the first of all.
_HEARD = """
SELECT boot FROM (SELECT id, boot FROM greeting UNION ALL SELECT id, boot FROM run) GROUP BY boot ORDER BY max(id)"""
_FIRST_HEARD = "SELECT boot FROM (SELECT id, boot FROM greeting UNION ALL SELECT id, boot FROM run) ORDER BY id LIMIT 1"

# Each sample there is, at one look into the index each.
_SAMPLES = """
WITH RECURSIVE each (sample) AS (
    SELECT min(sample) FROM stretch
    UNION ALL
    SELECT (SELECT min(sample) FROM stretch WHERE stretch.sample > each.sample) FROM each WHERE sample NOT NULL
) SELECT sample FROM each WHERE sample NOT NULL"""


class LogReader:
    """A log, for reading only; made by `LogReader.open`, used from the thread that opened it.

    What a writer has not committed yet is not there. Lists come in the order they were logged, ticks in the order of
    their keys.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection) -> None:
        self._path = path
        self._connection = connection

    @classmethod
    def open(cls, path: str | PathLike[str]) -> Self:
        """Open a log for reading.

        Raises:
            LogError: There is no such file, it is no log, it is one of a newer version, or it cannot be read.
        """
        whole = Path(path).resolve()
        if not whole.is_file():
            raise LogError(f"there is no log {str(whole)!r}; give the name of one with --log FILE")
        with contextlib.ExitStack() as undo, explaining(whole, "open"):
            # As a URI, so that a question mark or a percent sign in the name stays part of it.
            where = uri_of(whole)
            connection = sqlite3.connect(where + "?mode=ro", uri=True, isolation_level=None, timeout=_BUSY_SECONDS)
            undo.callback(connection.close)
            if _is_new(connection, whole, where):
                raise LogError(f"log {str(whole)!r} is empty: nothing was logged in it; clock a board with --log FILE")
            undo.pop_all()
            return cls(whole, connection)

    @property
    def board_id(self) -> str:
        """The id of the board whose log it is."""
        ((board_id,),) = self.query("SELECT board_id FROM board")
        return str(board_id)

    def last_key(self) -> Key | None:
        """Give the key of the last tick of the boot that was heard last, or None where no tick is logged."""
        for boot in reversed(self.boots()):
            sql = "SELECT boot, reset, tick FROM tick WHERE boot = ? ORDER BY reset DESC, tick DESC LIMIT 1"
            for key in self.query(sql, boot):
                return key
        return None

    def boots(self) -> list[int]:
        """Give the boot numbers, in the order the log last heard of them, which need not be rising."""
        boots = dict.fromkeys(boot for (boot,) in self.query(_HEARD))
        boots.update(dict.fromkeys(self.boots_with_ticks()))
        return list(boots)

    def first_boot(self) -> int | None:
        """Give the boot number that the log heard of first, or None where it has none."""
        for (boot,) in self.query(_FIRST_HEARD):
            return int(boot)
        return next(iter(self.boots_with_ticks()), None)

    def runs(self) -> list[Run]:
        """Give every run; an open one has no last tick yet."""
        return [Run(*row) for row in self.query(_RUNS)]

    def ticks(self, boot: int, reset: int, first: int = 0, last: int = LARGEST) -> Iterator[Tick]:
        """Give the ticks of one boot and reset, in order, however many they are, without holding them in memory.

        Args:
            boot: Boot number.
            reset: Reset number.
            first: The first tick number wanted.
            last: The last tick number wanted, itself included; a board may count further than a log can hold.
        """
        sql = "SELECT * FROM tick WHERE boot = ? AND reset = ? AND tick BETWEEN ? AND ? ORDER BY tick"
        if first <= LARGEST:
            for row in self.query(sql, boot, reset, first, min(last, LARGEST)):
                yield Tick(*row)

    def all_ticks(self) -> Iterator[Tick]:
        """Give every tick: boot after boot as in `boots`, each in order, without holding them in memory."""
        for boot in self.boots():
            yield from self.ticks_of(boot)

    def ticks_of(self, boot: int) -> Iterator[Tick]:
        """Give every tick of one boot, in order, without holding them in memory."""
        for row in self.query("SELECT * FROM tick WHERE boot = ? ORDER BY reset, tick", boot):
            yield Tick(*row)

    def boots_with_ticks(self) -> list[int]:
        """Give the boot numbers of which there are ticks, rising."""
        boots, boot = [], -1
        # One look into the index a boot; SELECT DISTINCT would read every tick.
        while (boot := next(self.query("SELECT min(boot) FROM tick WHERE boot > ?", boot))[0]) is not None:
            boots.append(boot)
        return boots

    def last_ticks(self, count: int) -> list[Tick]:
        """Give the last so many ticks of `all_ticks`, in its order."""
        found: list[Tick] = []
        for boot in reversed(self.boots()):
            sql = "SELECT * FROM tick WHERE boot = ? ORDER BY reset DESC, tick DESC LIMIT ?"
            found += [Tick(*row) for row in self.query(sql, boot, min(count - len(found), LARGEST))]
            if len(found) == count:
                break
        return found[::-1]

    def ticks_with(self, wanted: Callable[[int], bool]) -> Iterator[list[Tick]]:
        """Give the ticks among which some have a sample that is wanted, without reading all the others.

        Args:
            wanted: Says of a sample, one bit a probe, whether it is; asked once for each that the log has.

        Yields:
            Ticks in a row, up to 1024 of them, in order; where some between one list and the next are left out, an
            empty list.
        """
        found: set[Key] = set()
        for (sample,) in self.query(_SAMPLES):
            if wanted(sample):
                found.update(self.query("SELECT boot, reset, stretch FROM stretch WHERE sample = ?", sample))
        order = {boot: place for place, boot in enumerate(self.boots())}
        before = None
        for boot, reset, stretch in sorted(found, key=lambda key: (order[key[0]], *key)):
            if before is not None and (boot, reset, stretch) != before:
                yield []
            yield list(self.ticks(boot, reset, stretch * STRETCH, stretch * STRETCH + STRETCH - 1))
            before = boot, reset, stretch + 1

    def samples(self, part: Part, late: bool) -> Iterator[tuple[int, int | None]]:
        """Give ticks, each with its early sample, or its late one, or None where none was taken."""
        sample = "late" if late else "early"
        sql = f"SELECT tick, {sample} FROM tick WHERE boot = ? AND reset = ? AND tick BETWEEN ? AND ? ORDER BY tick"
        return self.query(sql, *part)

    def conflicts(self) -> Iterator[Conflict]:
        """Give the ticks that came again with other values than the ones kept."""
        for row in self.query("SELECT * FROM conflict ORDER BY boot, reset, tick, rowid"):
            yield Conflict(*row)

    def gaps(self) -> list[Gap]:
        """Give the ticks that happened and have no row, as spans."""
        return [Gap(*row) for row in self.query("SELECT * FROM gap ORDER BY id")]

    def unplaced(self) -> list[Unplaced]:
        """Give the ticks that happened without anybody knowing their numbers, as counts."""
        return [Unplaced(*row) for row in self.query("SELECT * FROM unplaced ORDER BY id")]

    def damage(self) -> list[Damage]:
        """Give the bytes that came and were no line."""
        return [Damage(*row) for row in self.query("SELECT * FROM damage ORDER BY id")]

    def notes(self) -> list[Note]:
        """Give what somebody wrote about ticks."""
        return [Note(*row) for row in self.query("SELECT * FROM note ORDER BY id")]

    def greetings(self) -> list[Greeting]:
        """Give every greeting of the board."""
        sql = "SELECT id, boot, reset, tick, edges, fields, host_ns, host_utc FROM greeting ORDER BY id"
        return [
            Greeting(id_, boot, reset, tick, edges, json.loads(fields), host_ns, host_utc)
            for id_, boot, reset, tick, edges, fields, host_ns, host_utc in self.query(sql)
        ]

    def query(self, sql: str, *values: int | str) -> Iterator[tuple[Any, ...]]:
        """Ask the file anything in SQL, and give the rows one at a time.

        Raises:
            LogError: The file is damaged, or its disk is.
        """
        with explaining(self._path, "read"):
            # Who stops asking lets go of the rows whenever they like: a cursor itself, which ``yield from`` would close
            # then, may not be closed after the file.
            yield from itertools.chain(self._connection.execute(sql, values))

    @contextlib.contextmanager
    def one_instant(self) -> Iterator[None]:
        """Show the log, throughout the block, as it was when the block first read it, whatever a writer adds."""
        with explaining(self._path, "read"):
            self._connection.execute("BEGIN")
        try:
            yield
        finally:
            with contextlib.suppress(sqlite3.Error):  # a damaged file; only read from, so there is nothing to keep
                self._connection.execute("ROLLBACK")

    def close(self) -> None:
        """Let go of the file; a second close does nothing."""
        self._connection.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        self.close()


def uri_of(path: PurePath) -> str:
    """Give the URI by which SQLite opens a whole path: it knows no host in front, such as a network share has."""
    uri = path.as_uri()
    return uri if uri.startswith("file:///") else "file://" + uri.removeprefix("file:")


def _is_new(connection: sqlite3.Connection, path: Path, where: str) -> bool:
    """See ``is_new``; takes back what a program that was killed had begun, which only one that may write can."""
    try:
        return is_new(connection, path)
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode not in (sqlite3.SQLITE_READONLY_ROLLBACK, sqlite3.SQLITE_READONLY_RECOVERY):
            raise
    with contextlib.closing(sqlite3.connect(where + "?mode=rw", uri=True, timeout=_BUSY_SECONDS)) as writing:
        is_new(writing, path)
    return is_new(connection, path)
