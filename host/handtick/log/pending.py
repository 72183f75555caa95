"""The rows that wait in memory between two commits, each checked before it is taken.

A row that SQLite would refuse must never get in here: it would make every later commit fail.
"""

from __future__ import annotations

import itertools
import sqlite3
from array import array
from collections.abc import Iterable, Sequence

from handtick.errors import LogError
from handtick.log.rows import TickRow
from handtick.log.schema import LARGEST, STRETCH, TABLES, insert_statement
from handtick.log.traces import Traces

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
        self._stretches: set[tuple[int, int, int, int]] = set()
        self._traces = Traces()
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
        _check_all("tick", tuple(filter(None, itertools.chain.from_iterable(taken))))
        self._ticks += taken
        for boot, reset, tick, early, late, _, _ in taken:
            self._note_samples(boot, reset, tick, (early, late))
            self._traces.take_tick(boot, reset, tick, early, late)

    def add_block(
        self, boot: int, reset: int, first: int, samples: Sequence[Sequence[int]], times_us: Sequence[int], flags: int
    ) -> None:
        """Take ticks in a row, which share boot, reset and flags; `samples` are the early ones and the late ones.

        Raises:
            LogError: As `add_ticks`.
        """
        for numbers in ((boot, reset, first, first + len(times_us), flags), times_us, *samples):
            _check_all("tick", numbers)
        self._traces.take(boot, reset, first, *samples)
        # Of an array, numbers are made once for all that follows.
        early, late = map(list, samples)
        same = itertools.repeat
        numbers = range(first, first + len(times_us))
        self._ticks += zip(same(boot), same(reset), numbers, early, late, times_us, same(flags))  # noqa: B905 - endless
        for start in range(-(first % STRETCH), len(times_us), STRETCH):
            part = slice(max(0, start), start + STRETCH)
            self._note_samples(boot, reset, first + part.start, (*set(early[part]), *set(late[part])))

    def _note_samples(self, boot: int, reset: int, tick: int, samples: Iterable[int | None]) -> None:
        """Note which samples were taken in the stretch of a tick."""
        stretch = tick // STRETCH
        self._stretches.update((sample, boot, reset, stretch) for sample in samples if sample is not None)

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
            connection.executemany(_INSERT["stretch"], self._stretches)
            cursor = connection.executemany(_INSERT["tick"], self._ticks)
            if cursor.rowcount < len(self._ticks):
                connection.executemany(_INSERT_CONFLICT, self._ticks)
                # Which of the rows were there before, perhaps with other samples, nobody has looked at.
                self._traces = Traces()
            connection.executemany(_INSERT["trace"], self._traces.rows)

    def clear(self) -> None:
        """Forget the rows: they are in the file."""
        self._ticks.clear()
        self._stretches.clear()
        self._traces.rows.clear()
        for rows in self._rows.values():
            rows.clear()


def _check_all(table: str, numbers: Sequence[int]) -> None:
    if isinstance(numbers, array) and numbers.typecode == "H":
        return  # from 0 to 65535 by its nature
    if numbers and (min(numbers) < 0 or max(numbers) > LARGEST):
        _checked(table, min(numbers))
        _checked(table, max(numbers))


def _checked(table: str, value: int | str | bytes | None) -> int | str | bytes | None:
    if isinstance(value, str):
        # Words from a command line may hold half characters, which UTF-8, and so SQLite, cannot.
        return value.encode("utf-8", "backslashreplace").decode("utf-8")
    if isinstance(value, int) and not 0 <= value <= LARGEST:
        raise LogError(
            f"the log cannot hold {value} in a {table} row, only 0 to {LARGEST}; restart the board to count anew"
        )
    return value
