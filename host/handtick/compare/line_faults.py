"""Faults of a machine's lines, and which of them turn all that was expected into what was seen."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable, Iterator, Sequence
from typing import NamedTuple

# A machine has few states beside its many ticks; of one that has more, so many are kept at most.
_MOST_KINDS = 1 << 14


class Kind(NamedTuple):
    """What a tick is to a comparison: the bits expected and which of them count, the bits seen and which of them."""

    bits: int
    care: int
    seen: int
    known: int

    @property
    def differs(self) -> bool:
        """Whether a bit differs that counts on both sides."""
        return bool((self.bits ^ self.seen) & self.care & self.known)


class LineFaults:
    """The faults of lines that fit all kinds of ticks met so far.

    Args:
        names: what the lines are called, that of bit 0 first.
    """

    def __init__(self, names: Sequence[str]) -> None:
        self._fitting = list(_all(names))
        self._met: set[Kind] = set()

    def meet(self, kind: Kind) -> None:
        """Gives up the faults that do not turn what was expected into what was seen."""
        if not self._fitting or kind in self._met:
            return
        if len(self._met) == _MOST_KINDS:
            self._met.clear()
        self._met.add(kind)
        self._fitting = [
            (words, turn)
            for words, turn in self._fitting
            if not Kind(*turn(kind.bits, kind.care), kind.seen, kind.known).differs
        ]

    def __bool__(self) -> bool:
        return bool(self._fitting)

    @property
    def words(self) -> tuple[str, ...]:
        """Those that fit, in words."""
        return tuple(words for words, _ in self._fitting)


# Makes of the bits and care that were expected what a fault would have shown.
_Turn = Callable[[int, int], tuple[int, int]]


def _all(names: Sequence[str]) -> Iterator[tuple[str, _Turn]]:
    for bit, level in itertools.product(range(len(names)), (0, 1)):
        yield f"{names[bit]} is stuck at {level}", functools.partial(_stuck, bit, level)
    for bit in range(len(names)):
        yield f"{names[bit]} is inverted", functools.partial(_inverted, bit)
    for one, other in itertools.combinations(range(len(names)), 2):
        both = f"{names[one]} and {names[other]}"
        yield f"{both} are swapped", functools.partial(_swapped, one, other)
        for level in (0, 1):
            words = f"{both} are joined: either at {level} takes both to {level}"
            yield words, functools.partial(_joined, one, other, level)


def _stuck(bit: int, level: int, bits: int, care: int) -> tuple[int, int]:
    return bits & ~(1 << bit) | level << bit, care | 1 << bit


def _inverted(bit: int, bits: int, care: int) -> tuple[int, int]:
    return bits ^ 1 << bit, care


def _swapped(one: int, other: int, bits: int, care: int) -> tuple[int, int]:
    return _exchanged(bits, one, other), _exchanged(care, one, other)


def _exchanged(bits: int, one: int, other: int) -> int:
    rest = bits & ~(1 << one | 1 << other)
    return rest | (bits >> one & 1) << other | (bits >> other & 1) << one


def _joined(one: int, other: int, level: int, bits: int, care: int) -> tuple[int, int]:
    """Either line at the level takes both there; known where both lines are, or where one is known to be at it."""
    levels = [bits >> line & 1 for line in (one, other)]
    known = [care >> line & 1 for line in (one, other)]
    decided = any(know and each == level for know, each in zip(known, levels, strict=True))
    both = level if decided else 1 - level
    mask = 1 << one | 1 << other
    cared = care | mask if decided or all(known) else care & ~mask
    return bits & ~mask | (mask if both else 0), cared
