"""The log as a file: what makes it a log, and what to say when it cannot be had."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Iterator
from pathlib import Path

from handtick.errors import LogError
from handtick.log.schema import APPLICATION_ID, VERSION

__all__ = ["explaining", "file_identity", "is_new"]

_ANOTHER = "choose another file with --log FILE"

_SMALLEST_BYTES = 512

# SQLite's primary result code -> what happened, what to do next.
_WORDS = {
    sqlite3.SQLITE_FULL: ("the disk is full", "free some space, or " + _ANOTHER),
    sqlite3.SQLITE_READONLY: ("it is read-only", "give it write permission, or " + _ANOTHER),
    sqlite3.SQLITE_CANTOPEN: ("it cannot be opened here", "use a folder you may write in, with --log FILE"),
    sqlite3.SQLITE_PERM: ("permission is denied", _ANOTHER),
    sqlite3.SQLITE_BUSY: ("another program holds it", "close that program, or " + _ANOTHER),
    sqlite3.SQLITE_LOCKED: ("another program holds it", "close that program, or " + _ANOTHER),
    sqlite3.SQLITE_NOTADB: ("it is not a tick log", _ANOTHER),
    sqlite3.SQLITE_CORRUPT: ("it is damaged", "keep a copy as it is, and " + _ANOTHER),
    sqlite3.SQLITE_IOERR: ("the disk reports an error", "check the disk, or " + _ANOTHER),
}


@contextlib.contextmanager
def explaining(path: Path, doing: str) -> Iterator[None]:
    """Turn what SQLite raises inside the block into a one-line `LogError`.

    Args:
        path: The log file, for the message.
        doing: What was being done to it: `open`, `read` or `write`.

    Raises:
        LogError: SQLite raised one of its errors.
    """
    try:
        yield
    except sqlite3.ProgrammingError:
        raise  # used after close, or from another thread: a slip of ours
    except UnicodeDecodeError as error:
        # SQLite's own words about a damaged file can hold bytes of it, and Python fails to read them.
        raise _log_error(path, doing, *_WORDS[sqlite3.SQLITE_CORRUPT]) from error
    except sqlite3.Error as error:
        code = getattr(error, "sqlite_errorcode", 0) & 0xFF
        what, then = _WORDS.get(code, (str(error), _ANOTHER))
        raise _log_error(path, doing, what, then) from error


def _log_error(path: Path, doing: str, what: str, then: str) -> LogError:
    return LogError(f"cannot {doing} log {str(path)!r}: {what}; {then}")


def file_identity(path: Path) -> tuple[int, int] | None:
    """Give what tells one file from another of the same name, or None where there is no such file."""
    try:
        status = path.stat()
    except FileNotFoundError:
        return None
    return status.st_dev, status.st_ino


def is_new(connection: sqlite3.Connection, path: Path) -> bool:
    """Say whether a database is still empty, and refuse one that is not a log this program knows.

    Only reads: a file that is not ours is left exactly as it was.

    Raises:
        LogError: Another program's database, or a log of a newer version.
    """
    # SQLite takes a file of one byte for an empty database, and would write over it. Its smallest has 512.
    if 0 < path.stat().st_size < _SMALLEST_BYTES:
        raise LogError(f"{str(path)!r} is not a tick log; {_ANOTHER}")
    (kind,) = connection.execute("PRAGMA application_id").fetchone()
    (version,) = connection.execute("PRAGMA user_version").fetchone()
    (tables,) = connection.execute("SELECT count(*) FROM sqlite_master").fetchone()
    if not tables and not kind:
        return True
    if kind != APPLICATION_ID:
        raise LogError(f"{str(path)!r} is a database of another program, not a tick log; {_ANOTHER}")
    if version > VERSION:
        raise LogError(
            f"log {str(path)!r} has version {version}, this handtick knows up to {VERSION}; "
            f"update handtick, or {_ANOTHER}"
        )
    return False
