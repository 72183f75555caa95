"""Makes a file ready for its writer: new tables or the right board's, and no run left open."""

from __future__ import annotations

import sqlite3
from os import PathLike
from pathlib import Path

from handtick.errors import LogError
from handtick.log.files import is_new
from handtick.log.schema import LARGEST, create_statements

__all__ = ["prepare", "resolved"]

# An open run ends at the last tick known of it: before the next run with the same boot and reset begins.
_CLOSE_OPEN_RUNS = """
INSERT INTO run_end (run, last_tick, why, ended_ns)
SELECT id, max(
    first_tick - 1,
    ifnull((SELECT max(tick) FROM tick WHERE boot = this.boot AND reset = this.reset
        AND tick BETWEEN this.first_tick AND this.limit_tick), 0),
    ifnull((SELECT max(last_tick) FROM gap WHERE boot = this.boot AND reset = this.reset
        AND first_tick >= this.first_tick AND last_tick <= this.limit_tick), 0)
), 'log was not closed', ?1
FROM (SELECT *, ifnull((SELECT min(first_tick) - 1 FROM run AS later WHERE later.boot = run.boot
        AND later.reset = run.reset AND later.first_tick > run.first_tick), ?2) AS limit_tick FROM run) AS this
WHERE id NOT IN (SELECT run FROM run_end)"""


def resolved(path: str | PathLike[str]) -> Path:
    """Give the whole name of a log to be written, with links followed.

    Raises:
        LogError: It is a folder, or in a folder that is not there.
    """
    whole = Path(path).resolve()
    if whole.is_dir():
        raise LogError(f"{str(whole)!r} is a folder; give the name of a file in it, with --log FILE")
    if not whole.parent.is_dir():
        raise LogError(f"there is no folder {str(whole.parent)!r}; make it, or choose another with --log FILE")
    return whole


def prepare(connection: sqlite3.Connection, path: Path, board_id: str, now_ns: int) -> None:
    """Make a log where the file is new, see that it is the board's where it is not, and end runs left open.

    Args:
        connection: Open on the file, in autocommit.
        path: The file, for messages.
        board_id: The id of the board whose log it must be.
        now_ns: Host time, ns since 1970.

    Raises:
        LogError: The file is another board's log, or no log. It is left exactly as it was.
    """
    new = is_new(connection, path)
    if not new:
        (owner,) = connection.execute("SELECT board_id FROM board").fetchone()
        if owner != board_id:
            raise LogError(
                f"log {str(path)!r} belongs to board {owner!r}, not to board {board_id!r}; "
                "use another file with --log FILE"
            )
    connection.execute("PRAGMA journal_mode = WAL").fetchall()
    connection.execute("PRAGMA synchronous = FULL")
    connection.execute("BEGIN IMMEDIATE")
    if new:
        for statement in create_statements():
            connection.execute(statement)
        connection.execute("INSERT INTO board (board_id, since_ns) VALUES (?, ?)", (board_id, now_ns))
    connection.execute(_CLOSE_OPEN_RUNS, (now_ns, LARGEST))
    connection.execute("COMMIT")
