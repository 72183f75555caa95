"""A stop rule in memory: values taken from a tick's samples, and conditions on them.

A tick is given as three numbers: its early sample, its late sample, and its tick number.
"""

from __future__ import annotations

import operator
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from handtick.wiring import Bus

COMPARISONS: dict[str, Callable[[int, int], bool]] = {
    "==": operator.eq,
    "!=": operator.ne,
    "<": operator.lt,
    "<=": operator.le,
    ">": operator.gt,
    ">=": operator.ge,
}


@dataclass(frozen=True, slots=True)
class Lines:
    """The value of a bus, or of some of its bits.

    Attributes:
        bus: the bus.
        low, bits: which of its bits, from the lowest.
        early: whether its early sample is meant.
    """

    bus: Bus
    low: int
    bits: int
    early: bool = False

    @property
    def most(self) -> int:
        """The largest value it can have."""
        return (1 << self.bits) - 1

    @property
    def probes(self) -> tuple[int, ...]:
        """Its probes, lowest bit first."""
        return self.bus.probes[self.low : self.low + self.bits]

    def of(self, sample: int) -> int:
        """Its value in a sample."""
        return self.bus.value(sample) >> self.low & self.most

    def value(self, early: int, late: int, tick: int) -> int:
        """Its value in a tick."""
        return self.of(early if self.early else late)


@dataclass(frozen=True, slots=True)
class TickNumber:
    """The tick's number."""

    most = (1 << 64) - 1

    def value(self, early: int, late: int, tick: int) -> int:
        """The number."""
        return tick


@dataclass(frozen=True, slots=True)
class Number:
    """A number that stands in the rule."""

    number: int

    def value(self, early: int, late: int, tick: int) -> int:
        """The number."""
        return self.number


Value = Lines | TickNumber | Number


@dataclass(frozen=True, slots=True)
class Compare:
    """Two values compared, both masked first where the rule says so with ``&``."""

    left: Value
    sign: str
    right: Value
    mask: int | None = None

    def holds(self, early: int, late: int, tick: int) -> bool:
        """Whether it holds at a tick."""
        left = self.left.value(early, late, tick)
        if self.mask is not None:
            left &= self.mask
        return COMPARISONS[self.sign](left, self.right.value(early, late, tick))


@dataclass(frozen=True, slots=True)
class Moves:
    """What a tick did to lines: ``how`` is "changes", "rises" or "falls"."""

    lines: Lines
    how: str

    def holds(self, early: int, late: int, tick: int) -> bool:
        """Whether it holds at a tick."""
        before, after = self.lines.of(early), self.lines.of(late)
        if self.how == "changes":
            return before != after
        return after > before if self.how == "rises" else after < before


@dataclass(frozen=True, slots=True)
class Both:
    """Two conditions joined: ``word`` is "and" or "or"."""

    word: str
    left: Condition
    right: Condition

    def holds(self, early: int, late: int, tick: int) -> bool:
        """Whether it holds at a tick."""
        if self.word == "and":
            return self.left.holds(early, late, tick) and self.right.holds(early, late, tick)
        return self.left.holds(early, late, tick) or self.right.holds(early, late, tick)


@dataclass(frozen=True, slots=True)
class Not:
    """The opposite of a condition."""

    inner: Condition

    def holds(self, early: int, late: int, tick: int) -> bool:
        """Whether it holds at a tick."""
        return not self.inner.holds(early, late, tick)


Condition = Compare | Moves | Both | Not


@dataclass(frozen=True, slots=True)
class Rule:
    """A whole rule.

    Attributes:
        condition: what must hold.
        ticks: on how many ticks in a row, 1 or more.
        early: whether it speaks of early samples: then the clock rests before the edge that would capture them.
        text: as it was written.
    """

    condition: Condition
    ticks: int
    early: bool
    text: str


def parts(condition: Condition) -> Iterator[Compare | Moves]:
    """The single conditions of which a condition is made."""
    if isinstance(condition, Both):
        yield from parts(condition.left)
        yield from parts(condition.right)
    elif isinstance(condition, Not):
        yield from parts(condition.inner)
    else:
        yield condition
