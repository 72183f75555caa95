"""The log's tables are what their documentation says."""

import re
import sqlite3
from pathlib import Path

import pytest

from handtick.log import Conflict, Damage, Gap, LogWriter, Note, Tick, Unplaced, schema_table
from handtick.log.schema import APPLICATION_ID, TABLES, VERSION


@pytest.fixture
def made(tmp_path: Path) -> Path:
    """Give a new, closed log."""
    path = tmp_path / "log.sqlite3"
    LogWriter.open(path, "shed", 0).close()
    return path


def test_the_reference_lists_every_table_and_column_of_the_file(made: Path) -> None:
    """What the reference says of the tables is what any SQLite tool sees in a log."""
    connection = sqlite3.connect(made)
    names = [name for (name,) in connection.execute("SELECT name FROM sqlite_master WHERE type = 'table'")]
    columns = {name: [row[1] for row in connection.execute(f"PRAGMA table_xinfo({name})")] for name in names}
    connection.close()
    told: dict[str, list[str]] = {}
    for line in schema_table().splitlines():
        if heading := re.fullmatch(r"### (\w+)", line):
            told[heading[1]] = []
        elif row := re.match(r"\| `(\w+)` \| \w+ \| \w", line):
            told[list(told)[-1]].append(row[1])
    assert told == columns


def test_a_log_carries_its_kind_and_version_and_its_own_explanation(made: Path) -> None:
    """A log is known by its application id, and its SQL says in words what each column means."""
    connection = sqlite3.connect(made)
    assert connection.execute("PRAGMA application_id").fetchone() == (APPLICATION_ID,)
    assert connection.execute("PRAGMA user_version").fetchone() == (VERSION,)
    (sql,) = connection.execute("SELECT sql FROM sqlite_master WHERE name = 'tick'").fetchone()
    connection.close()
    assert "-- tick number: 1 is the first active edge after a reset" in sql


@pytest.mark.parametrize("row", [Conflict, Damage, Gap, Note, Tick, Unplaced])
def test_a_row_has_its_tables_columns_in_order(row: type[Tick]) -> None:
    """A row read whole from its table gets every value under the right name."""
    (table,) = [table for table in TABLES if table.name == row.__name__.lower()]
    assert list(row._fields) == [column.name for column in table.columns]
    assert "__dict__" not in dir(row)
