"""The rows that wait in memory between two commits, each checked before it is taken.

A row that SQLite would refuse must never get in here: it would make every later commit fail.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Iterable

from handtick.errors import LogError
from handtick.log.rows import TickRow
from handtick.log.schema import LARGEST, TABLES, insert_statement

__all__ = ["PendingRows"]

_INSERT = {table.name: insert_statement(table) for table in TABLES}

# Run after the ticks are in: what differs from the tick that was kept, and is not here already. IS, for the NULLs.
_INSERT_CONFLICT = """
INSERT INTO conflict SELECT ?1, ?2, ?3, ?4, ?5, ?6, ?7 WHERE EXISTS (
    SELECT 1 FROM tick WHERE boot = ?1 AND reset = ?2 AND tick = ?3
    AND NOT (early IS ?4 AND late IS ?5 AND time_us = ?6 AND flags = ?7)
) AND NOT EXISTS (
    SELECT 1 FROM conflict WHERE boot = ?1 AND reset = ?2 AND tick = ?3
    AND early IS ?4 AND late IS ?5 AND time_us = ?6 AND flags = ?7
)"""


class PendingRows:
    """Rows on their way into a log.

    Args:
        last_id: The largest id in the file. Ids are given here, not by SQLite, so that a caller has a run's id
            before it is in the file, and so that writing the same rows again adds nothing.
    """

    def __init__(self, last_id: int) -> None:
        self._rows: dict[str, list[tuple[object, ...]]] = {table.name: [] for table in TABLES}
        self._ticks: list[TickRow] = []
        self._last_id = last_id

    def __len__(self) -> int:
        return len(self._ticks) + sum(map(len, self._rows.values()))

    def add(self, table: str, *values: int | str | bytes | None) -> int:
        """Take a row of a table that has ids.

        Args:
            table: The table's name.
            values: One for each column but the id, in the table's order.

        Returns:
            The id it got.

        Raises:
            LogError: A number is below 0 or larger than the log can hold.
        """
        row = tuple(_checked(table, value) for value in values)
        self._last_id += 1
        self._rows[table].append((self._last_id, *row))
        return self._last_id

    def add_run_end(self, run_id: int, last_tick: int, why: str, now_ns: int) -> None:
        """Take the end of a run, whose id is the run's."""
        values = (run_id, last_tick, why, now_ns)
        self._rows["run_end"].append(tuple(_checked("run_end", value) for value in values))

    def add_ticks(self, rows: Iterable[TickRow]) -> None:
        """Take ticks: all of them, or none where a number is below 0 or larger than the log can hold.

        Raises:
            LogError: There is such a number.
        """
        taken = list(rows)
        for row in taken:
            boot, reset, tick, early, late, time_us, flags = row
            numbers = (boot, reset, tick, early or 0, late or 0, time_us, flags)
            if min(numbers) < 0 or max(numbers) > LARGEST:
                _checked("tick", min(numbers))
                _checked("tick", max(numbers))
        self._ticks += taken

    def write(self, connection: sqlite3.Connection) -> None:
        """Write all rows in one transaction, or none of them; they stay here until `clear`."""
        try:
            connection.execute("BEGIN IMMEDIATE")
            self._insert(connection)
            connection.execute("COMMIT")
        except BaseException:  # Ctrl-C too: half a transaction must not wait for the next commit
            if connection.in_transaction:
                connection.execute("ROLLBACK")
            raise

    def _insert(self, connection: sqlite3.Connection) -> None:
        for table, rows in self._rows.items():
            if rows:
                connection.executemany(_INSERT[table], rows)
        if self._ticks:
            cursor = connection.executemany(_INSERT["tick"], self._ticks)
            if cursor.rowcount < len(self._ticks):
                connection.executemany(_INSERT_CONFLICT, self._ticks)

    def clear(self) -> None:
        """Forget the rows: they are in the file."""
        self._ticks.clear()
        for rows in self._rows.values():
            rows.clear()


def _checked(table: str, value: int | str | bytes | None) -> int | str | bytes | None:
    if isinstance(value, str):
        # Words from a command line may hold half characters, which UTF-8, and so SQLite, cannot.
        return value.encode("utf-8", "backslashreplace").decode("utf-8")
    if isinstance(value, int) and not 0 <= value <= LARGEST:
        raise LogError(
            f"the log cannot hold {value} in a {table} row, only 0 to {LARGEST}; restart the board to count anew"
        )
    return value
