"""One writer a log, however many programs ask."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path

from handtick.errors import LogError
from handtick.log.files import explaining, file_identity

__all__ = ["WriterLock"]


class WriterLock:
    """The right to write one log, held by one writer at a time.

    It is SQLite's own exclusive lock on an empty file beside the log, so it works wherever SQLite does, between
    processes and within one, and the operating system gives it back however the process ends. A file left behind by a
    crash locks nothing. A lock on the log itself would not do: it would shut readers out.

    Args:
        log_path: The log file, with links resolved, so that two names for one log meet at one lock.

    Raises:
        LogError: Another writer has the log, or the folder cannot be written.
    """

    def __init__(self, log_path: Path) -> None:
        self._path = log_path.with_name(log_path.name + "-lock")
        self._connection = self._take(log_path)

    def _take(self, log_path: Path) -> sqlite3.Connection:
        while True:
            before = self._make(log_path)
            with explaining(log_path, "write"):
                connection = sqlite3.connect(self._path, isolation_level=None, timeout=0)
            try:
                with explaining(log_path, "write"):
                    connection.execute("PRAGMA journal_mode = OFF")  # nothing is ever written: no file for undoing it
                    connection.execute("BEGIN EXCLUSIVE")
                if before == file_identity(self._path):
                    return connection
            except BaseException:
                connection.close()
                raise
            # The last holder removed the file between our opening and our locking it: this lock guards nothing.
            connection.close()

    def _make(self, log_path: Path) -> tuple[int, int] | None:
        try:
            self._path.touch()
        except OSError as error:
            why = (error.strerror or str(error)).lower()
            then = "use a folder you may write in, with --log FILE"
            raise LogError(f"cannot write log {str(log_path)!r}: {why}; {then}") from error
        return file_identity(self._path)

    def release(self) -> None:
        """Give the right back and remove the file beside the log."""
        # Removed while held, so that nobody can lock a file on its way out. Windows removes only what is closed, and
        # there a file somebody else has opened by then stays.
        try:
            self._path.unlink(missing_ok=True)
        except OSError:
            self._connection.close()
            with contextlib.suppress(OSError):
                self._path.unlink(missing_ok=True)
        else:
            self._connection.close()
