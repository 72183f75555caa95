"""Writes ticks, and everything else that happens to a board, into its log.

Rows wait in memory and go into the file in one transaction at each commit. The file is in SQLite's WAL mode while a
writer has it: readers and the writer never wait for each other, and a killed process leaves at worst an unfinished
transaction that the next opening passes over. `synchronous=FULL` makes a commit survive a power cut too, for one disk
flush a commit. A closed log is put back into rollback mode, so that it is a single file that can be copied, or read
from a folder that cannot be written.
"""

from __future__ import annotations

import contextlib
import json
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from os import PathLike
from pathlib import Path
from types import TracebackType
from typing import Self

from handtick.errors import LogError
from handtick.log.files import explaining, file_identity
from handtick.log.lock import WriterLock
from handtick.log.opening import prepare, resolved
from handtick.log.pending import PendingRows
from handtick.log.rows import TickRow
from handtick.log.schema import TABLES

__all__ = ["LogWriter"]

_COMMIT_EVERY_NS = 1_000_000_000
# So many rows take some thirty megabytes while they wait.
_COMMIT_EVERY_ROWS = 65_536
_BUSY_SECONDS = 1.0


class LogWriter:
    """The one writer of a board's log; made by `LogWriter.open`, used from the thread that opened it.

    Host times are ns since 1970. Other numbers are 0 to 2**63 - 1: a larger one is refused with a `LogError`
    when it is given, and nothing of that call goes in.
    """

    def __init__(self, path: Path, connection: sqlite3.Connection, lock: WriterLock, now_ns: int) -> None:
        self._path = path
        self._identity = file_identity(path)
        self._connection = connection
        self._lock = lock
        self._closed = False
        self._committed_ns = now_ns
        # Rows that a commit which failed has left.
        self._kept = 0
        self._open_runs: set[int] = set()
        tables = [table.name for table in TABLES if "id" in table.filled]
        union = " UNION ALL ".join(f"SELECT max(id) AS id FROM {name}" for name in tables)
        (last_id,) = connection.execute(f"SELECT ifnull(max(id), 0) FROM ({union})").fetchone()
        self._waiting = PendingRows(last_id)

    @classmethod
    def open(cls, path: str | PathLike[str], board_id: str, now_ns: int) -> Self:
        """Open a board's log for writing; make it where there is none, and end runs that a crash left open.

        Args:
            path: The log file.
            board_id: The id of the board whose log it is.
            now_ns: Host time, ns since 1970.

        Raises:
            LogError: The file is another board's log, somebody else is writing it, it is no log, or it cannot
                be written.
        """
        whole = resolved(path)
        with contextlib.ExitStack() as undo:
            lock = WriterLock(whole)
            undo.callback(lock.release)
            with explaining(whole, "open"):
                connection = sqlite3.connect(whole, isolation_level=None, timeout=_BUSY_SECONDS)
                undo.callback(connection.close)
                prepare(connection, whole, board_id, now_ns)
                writer = cls(whole, connection, lock, now_ns)
            undo.pop_all()
        return writer

    @property
    def path(self) -> Path:
        """The file."""
        return self._path

    @property
    def is_behind(self) -> bool:
        """Whether rows wait that a commit could not write."""
        return self._kept > 0

    @property
    def pending(self) -> int:
        """How many rows wait in memory for the next commit."""
        return len(self._waiting)

    @property
    def _rows(self) -> PendingRows:
        if self._closed:
            raise ValueError(f"log {str(self._path)!r} is closed")
        return self._waiting

    def greet(self, boot: int, reset: int, tick: int, edges: int, fields: Mapping[str, object], now_ns: int) -> None:
        """Log a greeting: where the board's counts stand, and all its fields (anything JSON can hold)."""
        self._rows.add("greeting", boot, reset, tick, edges, json.dumps(dict(fields), ensure_ascii=False), now_ns)

    def start_run(self, boot: int, reset: int, first_tick: int, asked: str, now_ns: int) -> int:
        """Log that the clock starts to move.

        Args:
            boot: Boot number.
            reset: Reset number.
            first_tick: The tick number the first tick of the run will have, from 1.
            asked: What was asked for, such as `step 3`.
            now_ns: Host time, ns since 1970.

        Returns:
            The run's id, for `end_run`.
        """
        run_id = self._rows.add("run", boot, reset, first_tick, asked, now_ns)
        self._open_runs.add(run_id)
        return run_id

    def end_run(self, run_id: int, last_tick: int, why: str, now_ns: int, commits: bool = True) -> None:
        """Log that the clock stopped, and commit.

        Args:
            run_id: What `start_run` gave.
            last_tick: The last tick of the run; the run's first tick - 1 where none came.
            why: Why it stopped.
            now_ns: Host time, ns since 1970.
            commits: False where more is to be taken first, and the caller commits then.

        Raises:
            ValueError: This writer has no such run open.
            LogError: The commit failed; the end stays in memory and goes in with the next.
        """
        if run_id not in self._open_runs:
            raise ValueError(f"run {run_id} is not open")
        self._rows.add_run_end(run_id, last_tick, why, now_ns)
        self._open_runs.remove(run_id)
        if commits:
            self.commit(now_ns)

    def add_tick(
        self, boot: int, reset: int, tick: int, early: int | None, late: int | None, time_us: int, flags: int
    ) -> None:
        """Log one tick; see `add_ticks`."""
        self.add_ticks([(boot, reset, tick, early, late, time_us, flags)])

    def add_ticks(self, rows: Iterable[TickRow]) -> None:
        """Log ticks, in any order.

        A tick that is there with the same values is passed over. With other values the first is kept and this one
        goes to the conflicts.

        Args:
            rows: Boot, reset, tick, early, late, time_us, flags of each. Samples are one bit a probe, or None.

        Raises:
            LogError: A number is larger than the log can hold.
        """
        self._rows.add_ticks(rows)

    def add_block(
        self,
        boot: int,
        reset: int,
        first: int,
        early: Sequence[int],
        late: Sequence[int],
        times_us: Sequence[int],
        flags: int,
    ) -> None:
        """Log ticks in a row, as `add_ticks` does, many times as fast.

        Args:
            boot: Boot number of all.
            reset: Reset number of all.
            first: Number of the first.
            early: Their early samples, one bit a probe.
            late: Their late samples.
            times_us: The board's time at each, us.
            flags: The flags of all.

        Raises:
            LogError: A number is larger than the log can hold.
        """
        self._rows.add_block(boot, reset, first, (early, late), times_us, flags)

    def add_gap(self, boot: int, reset: int, first_tick: int, last_tick: int, why: str, now_ns: int) -> None:
        """Log that ticks happened and have no row: first and last included; the same gap twice is one."""
        if last_tick < first_tick:
            raise ValueError(f"a gap from tick {first_tick} to {last_tick} is empty")
        self._rows.add("gap", boot, reset, first_tick, last_tick, why, now_ns)

    def add_unplaced(self, boot: int, reset: int, count: int, why: str, now_ns: int) -> None:
        """Log that ticks, 0 if nobody knows how many, happened before reset number `reset`, their numbers unknown."""
        self._rows.add("unplaced", boot, reset, count, why, now_ns)

    def add_damage(
        self,
        raw: bytes,
        lines: int,
        now_ns: int,
        boot: int | None = None,
        reset: int | None = None,
        tick: int | None = None,
    ) -> None:
        """Keep bytes that came and were no line.

        Args:
            raw: The bytes.
            lines: How many lines are known to be missing there; 0 if none is.
            now_ns: Host time, ns since 1970.
            boot: Boot number last heard, if any was.
            reset: Reset number last heard, if any was.
            tick: Tick number last heard, if any was.
        """
        self._rows.add("damage", boot, reset, tick, bytes(raw), lines, now_ns)

    def add_note(self, boot: int, reset: int, tick: int, text: str, now_ns: int) -> None:
        """Log what somebody wrote about a tick."""
        self._rows.add("note", boot, reset, tick, text, now_ns)

    def commit_if_due(self, now_ns: int) -> bool:
        """Commit where rows wait and the last commit, or try at one, is a second or 65,536 rows or more ago.

        Args:
            now_ns: Host time, ns since 1970. A host clock that was set back makes a commit due.

        Returns:
            True if it committed.

        Raises:
            LogError: As `commit`.
        """
        pending = self.pending
        recent = 0 <= now_ns - self._committed_ns < _COMMIT_EVERY_NS and pending - self._kept < _COMMIT_EVERY_ROWS
        if not pending or recent:
            return False
        self.commit(now_ns)
        return True

    def commit(self, now_ns: int) -> None:
        """Write all that waits into the file, or nothing of it.

        Raises:
            LogError: It could not be written. All of it stays in memory, and the next commit tries again.
        """
        self._committed_ns = now_ns
        self._kept = self.pending
        self._write("wait in memory")
        self._kept = 0

    def _write(self, fate: str) -> None:
        rows = self._rows
        if not rows:
            return
        try:
            if file_identity(self._path) != self._identity:
                raise LogError(f"log {str(self._path)!r} was moved or removed while in use; put it back")
            with explaining(self._path, "write"):
                rows.write(self._connection)
        except LogError as error:
            raise LogError(f"{error} ({len(rows)} rows {fate})") from error.__cause__
        rows.clear()

    def close(self) -> None:
        """Commit what waits and give the file back; a second close does nothing.

        Raises:
            LogError: What waited could not be written, and is lost; the message says how many rows.
        """
        if self._closed:
            return
        try:
            self._write("are lost")
        finally:
            self._closed = True
            # A reader that has the log open, or a full disk, keeps it in WAL mode: nothing is lost by that.
            with contextlib.suppress(sqlite3.Error):
                self._connection.execute("PRAGMA busy_timeout = 0")
                self._connection.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
                self._connection.execute("PRAGMA journal_mode = DELETE").fetchall()
            self._connection.close()
            self._lock.release()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        self.close()
