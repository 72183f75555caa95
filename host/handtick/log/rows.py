"""The rows a log reader gives, each with its columns in the order the table has them."""

from collections.abc import Mapping
from typing import NamedTuple

from handtick.log.schema import LARGEST

__all__ = [
    "NOT_TOLD",
    "Conflict",
    "Damage",
    "Gap",
    "Greeting",
    "Key",
    "Note",
    "Part",
    "Run",
    "Tick",
    "TickRow",
    "Unplaced",
]

NOT_TOLD = "not told"
"""What was asked for, of a run whose beginning did not arrive."""

Key = tuple[int, int, int]
"""Boot number, reset number, tick number."""

TickRow = tuple[int, int, int, int | None, int | None, int, int]
"""Boot, reset, tick, early, late, time_us, flags: a tick on its way into the log."""


class Tick(NamedTuple):
    """One tick: early and late samples are one bit a probe, or None where none was taken."""

    boot: int
    reset: int
    tick: int
    early: int | None
    late: int | None
    time_us: int
    flags: int

    @property
    def key(self) -> Key:
        """Boot number, reset number, tick number."""
        return self.boot, self.reset, self.tick


class Conflict(Tick):
    """A tick that came again with other values than the ones kept."""

    __slots__ = ()


class Part(NamedTuple):
    """Ticks in a row of one boot and reset; a last below the first: none."""

    boot: int
    reset: int
    first: int
    last: int

    def within(self, first: int, last: int) -> "Part":
        """Those of them between two ticks, both included."""
        return self._replace(first=max(self.first, first), last=min(self.last, last))


class Run(NamedTuple):
    """One run; what is only known at its end is None while it is open.

    `last_tick` is `first_tick` - 1 where the run ended before a tick came.
    """

    id: int
    boot: int
    reset: int
    first_tick: int
    asked: str
    started_ns: int
    started_utc: str
    last_tick: int | None
    why: str | None
    ended_ns: int | None
    ended_utc: str | None

    @property
    def part(self) -> Part:
        """Its ticks; to the end of its reset where it is open."""
        return Part(self.boot, self.reset, self.first_tick, LARGEST if self.last_tick is None else self.last_tick)


class Gap(NamedTuple):
    """Ticks that happened and have no row, first and last included."""

    id: int
    boot: int
    reset: int
    first_tick: int
    last_tick: int
    why: str
    host_ns: int
    host_utc: str


class Unplaced(NamedTuple):
    """Ticks that happened before the reset that began `reset`, without a known number; `count` 0: nobody knows."""

    id: int
    boot: int
    reset: int
    count: int  # type: ignore[assignment]  # of ticks, and not what tuples call so
    why: str
    host_ns: int
    host_utc: str


class Damage(NamedTuple):
    """Bytes that were no line, how many lines are known to be missing there, and the tick last heard of before."""

    id: int
    boot: int | None
    reset: int | None
    tick: int | None
    raw: bytes
    lines: int
    host_ns: int
    host_utc: str


class Note(NamedTuple):
    """What somebody wrote about a tick."""

    id: int
    boot: int
    reset: int
    tick: int
    text: str
    host_ns: int
    host_utc: str


class Greeting(NamedTuple):
    """What the board said of itself, and where its counts stood."""

    id: int
    boot: int
    reset: int
    tick: int
    edges: int
    fields: Mapping[str, object]
    host_ns: int
    host_utc: str
