"""The tick log: one SQLite file a board, a row a tick, and a word about everything that is not there."""

from handtick.log.accounted import accounted
from handtick.log.reader import LogReader
from handtick.log.rows import NOT_TOLD, Conflict, Damage, Gap, Greeting, Key, Note, Part, Run, Tick, TickRow, Unplaced
from handtick.log.schema import schema_table
from handtick.log.writer import LogWriter

__all__ = [
    "NOT_TOLD",
    "Conflict",
    "Damage",
    "Gap",
    "Greeting",
    "Key",
    "LogReader",
    "LogWriter",
    "Note",
    "Part",
    "Run",
    "Tick",
    "TickRow",
    "Unplaced",
    "accounted",
    "schema_table",
]
