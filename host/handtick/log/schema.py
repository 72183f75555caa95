"""The tick log's tables, in one place: what creates them, fills them and documents them is made from this.

The file is plain SQLite, so any SQLite tool opens it. Numbers are plain integers; SQLite's largest is 2**63 - 1, and
the log refuses a larger one aloud (2**63 ticks at 10 MHz take 29,000 years). Host times are nanoseconds since 1970,
each with a readable UTC column computed beside it. Rows are only ever added: a run's end is a row of its own, and
triggers stop any program from changing or deleting what was logged.
"""

from collections.abc import Iterator
from typing import NamedTuple

__all__ = [
    "APPLICATION_ID",
    "LARGEST",
    "STRETCH",
    "TABLES",
    "VERSION",
    "create_statements",
    "insert_statement",
    "schema_table",
]

APPLICATION_ID = int.from_bytes(b"tick", "big")
"""Marks the file as a tick log (`PRAGMA application_id`)."""

VERSION = 1
"""The version of these tables (`PRAGMA user_version`); a program refuses a version above its own."""

LARGEST = 2**63 - 1
"""The largest number the log can hold."""

STRETCH = 1024
"""How many tick numbers a stretch has."""


class Column(NamedTuple):
    """One column: its name, its SQL type and what it means."""

    name: str
    kind: str
    meaning: str

    @property
    def computed(self) -> bool:
        """True where SQLite works the value out from another column."""
        return "GENERATED" in self.kind


class Table(NamedTuple):
    """One table; `ending` is what SQL wants after the columns."""

    name: str
    meaning: str
    columns: tuple[Column, ...]
    key: str = ""
    ending: str = ""

    @property
    def filled(self) -> tuple[str, ...]:
        """The names of the columns an insert gives values for, in order."""
        return tuple(column.name for column in self.columns if not column.computed)


def _whole(name: str, meaning: str) -> Column:
    return Column(name, "INTEGER NOT NULL", meaning)


def _text(name: str, meaning: str) -> Column:
    return Column(name, "TEXT NOT NULL", meaning)


def _host_time(name: str, meaning: str) -> tuple[Column, Column]:
    formula = f"strftime('%Y-%m-%dT%H:%M:%fZ', {name}_ns / 1e9, 'unixepoch')"
    return (
        _whole(f"{name}_ns", f"{meaning}: host time, ns since 1970"),
        Column(f"{name}_utc", f"TEXT GENERATED ALWAYS AS ({formula}) VIRTUAL", "the same, readable, UTC"),
    )


_ID = Column("id", "INTEGER PRIMARY KEY", "counts what was logged, over all tables that have it")
_BOOT = _whole("boot", "boot number: new at each restart of the board")
_RESET = _whole("reset", "reset number: resets since boot, from 0")
_TICK = _whole("tick", "tick number: 1 is the first active edge after a reset")
_SAMPLES = (
    Column("early", "INTEGER", "early sample, one bit a probe; NULL if none was taken"),
    Column("late", "INTEGER", "late sample, one bit a probe; NULL if none was taken"),
    _whole("time_us", "the board's time since boot at the tick, us"),
    _whole("flags", "bit set the board sent with the tick"),
)

TABLES = (
    Table(
        "board",
        "The one board this log belongs to.",
        (Column("board_id", "TEXT PRIMARY KEY", "the board's id"), *_host_time("since", "when the log was made")),
    ),
    Table(
        "greeting",
        "Every greeting the board sent.",
        (
            _ID,
            _BOOT,
            _RESET,
            _whole("tick", "the tick number it had reached, 0 before the first"),
            _whole("edges", "edge count: active edges since boot"),
            _text("fields", "the whole greeting, a JSON object"),
            *_host_time("host", "when it came"),
        ),
    ),
    Table(
        "run",
        "From the clock starting to move to its stop.",
        (
            _ID,
            _BOOT,
            _RESET,
            _whole("first_tick", "the first tick of the run"),
            _text("asked", "what was asked for, such as `step 3`"),
            *_host_time("started", "when it started"),
        ),
    ),
    Table(
        "run_end",
        "The end of a run; an open run has no row here.",
        (
            Column("run", "INTEGER PRIMARY KEY", "the run's id"),
            _whole("last_tick", "the last tick of the run; first_tick - 1 if none came"),
            _text("why", "why it stopped; `log was not closed` if a crash left it open"),
            *_host_time("ended", "when the end was logged"),
        ),
    ),
    Table(
        "tick",
        "One row a tick.",
        (_BOOT, _RESET, _TICK, *_SAMPLES),
        key="PRIMARY KEY (boot, reset, tick)",
        # Clustered by its key: half the size of a table with a row id, and read in order without sorting.
        ending="WITHOUT ROWID",
    ),
    Table(
        "stretch",
        "Which samples were taken in which stretch of 1024 ticks: where a search for a value has to look.",
        (
            _whole("sample", "an early or late sample of a tick in it, one bit a probe"),
            _BOOT,
            _RESET,
            _whole("stretch", "the stretch's number: that of its ticks divided by 1024"),
        ),
        key="PRIMARY KEY (sample, boot, reset, stretch)",
        ending="WITHOUT ROWID",
    ),
    Table(
        "trace",
        "The samples of a whole stretch of 1024 ticks, side by side: what a comparison of long runs reads instead of "
        "its rows. Only of a stretch whose ticks all came in order, with samples of at most 16 bits.",
        (
            _BOOT,
            _RESET,
            _whole("stretch", "the stretch's number"),
            Column("early", "BLOB NOT NULL", "the early samples, two bytes a tick, the lower first"),
            Column("late", "BLOB NOT NULL", "the late samples, likewise"),
        ),
        key="PRIMARY KEY (boot, reset, stretch)",
        ending="WITHOUT ROWID",
    ),
    Table(
        "conflict",
        "Ticks that came again with other values; the first to come is in `tick`.",
        (_BOOT, _RESET, _TICK, *_SAMPLES),
    ),
    Table(
        "gap",
        "Ticks that happened and have no row, because they were not traced or were lost.",
        (
            _ID,
            _BOOT,
            _RESET,
            _whole("first_tick", "the first of them"),
            _whole("last_tick", "the last of them"),
            _text("why", "why they have no row"),
            *_host_time("host", "when it was noticed"),
        ),
        key="UNIQUE (boot, reset, first_tick, last_tick, why)",
    ),
    Table(
        "unplaced",
        "Ticks that happened and whose numbers are not known.",
        (
            _ID,
            _BOOT,
            _whole("reset", "they happened before the reset that began this reset number"),
            _whole("count", "how many they are; 0 if that is not known either"),
            _text("why", "why their numbers are not known"),
            *_host_time("host", "when it was noticed"),
        ),
    ),
    Table(
        "damage",
        "Bytes that came from the board and were no line of it.",
        (
            _ID,
            Column("boot", "INTEGER", "boot number last heard; NULL if none was"),
            Column("reset", "INTEGER", "reset number last heard; NULL if none was"),
            Column("tick", "INTEGER", "tick number last heard; NULL if none was"),
            Column("raw", "BLOB NOT NULL", "the bytes as they came"),
            _whole("lines", "how many lines are known to be missing there; 0 if none is"),
            *_host_time("host", "when they came"),
        ),
    ),
    Table(
        "note",
        "What somebody wrote about a tick.",
        (_ID, _BOOT, _RESET, _TICK, _text("text", "the words"), *_host_time("host", "when it was written")),
    ),
)


def create_statements() -> Iterator[str]:
    """Give the SQL that makes an empty log, one statement at a time, with each meaning as an SQL comment."""
    for table in TABLES:
        parts = [(f"{column.name} {column.kind}", f" -- {column.meaning}") for column in table.columns]
        if table.key:
            parts.append((table.key, ""))
        commas = [","] * (len(parts) - 1) + [""]
        lines = [f"    {sql}{comma}{note}" for (sql, note), comma in zip(parts, commas, strict=True)]
        body = "\n".join(lines)
        yield f"CREATE TABLE {table.name} ( -- {table.meaning}\n{body}\n) {table.ending}"
        for change in ("UPDATE", "DELETE"):
            yield (
                f"CREATE TRIGGER {table.name}_no_{change.lower()} BEFORE {change} ON {table.name} "
                "BEGIN SELECT RAISE(ABORT, 'a tick log is only added to'); END"
            )
    yield f"PRAGMA application_id = {APPLICATION_ID}"
    yield f"PRAGMA user_version = {VERSION}"


def insert_statement(table: Table) -> str:
    """Give the SQL that adds one row, and does nothing where a row with the same key is there already."""
    places = ", ".join("?" * len(table.filled))
    # Not INSERT OR IGNORE: that would also pass over a value missing where one is needed.
    return f"INSERT INTO {table.name} ({', '.join(table.filled)}) VALUES ({places}) ON CONFLICT DO NOTHING"


def schema_table() -> str:
    """Give the tables as Markdown for the reference: one heading and one table each, ending in a newline."""
    pieces = []
    for table in TABLES:
        rows = [f"| `{each.name}` | {each.kind.split()[0]} | {each.meaning} |" for each in table.columns]
        key = f"\n`{table.key}`\n" if table.key else ""
        head = f"### {table.name}\n\n{table.meaning}\n{key}\n| column | type | meaning |\n|---|---|---|\n"
        pieces.append(head + "\n".join(rows) + "\n")
    return "\n".join(pieces)
