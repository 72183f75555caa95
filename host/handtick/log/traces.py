"""Puts the samples of whole stretches side by side, while their ticks come, for whoever compares long runs."""

from __future__ import annotations

import sys
from array import array
from collections.abc import Iterable, Sequence

from handtick.log.schema import STRETCH

__all__ = ["Traces", "side_by_side"]


class Traces:
    """Rows of `trace` on their way into a log: of the stretches all of whose ticks came one after the other.

    A stretch that has begun goes on over commits; there is one at a time.
    """

    def __init__(self) -> None:
        self.rows: list[tuple[int, int, int, bytes, bytes]] = []
        self._early = array("H")
        self._late = array("H")
        # The tick that goes on with what is in hand.
        self._next: tuple[int, int, int] | None = None

    def take_tick(self, boot: int, reset: int, tick: int, early: int | None, late: int | None) -> None:
        """Take a tick; what is no sample of 16 bits, or does not go on with what came before, ends what is in hand."""
        if (boot, reset, tick) != self._next:
            self._forget()
            if tick % STRETCH:
                return
        try:
            # None is a TypeError.
            self._early.append(early)  # type: ignore[arg-type]
            self._late.append(late)  # type: ignore[arg-type]
        except (OverflowError, TypeError):
            self._forget()
            return
        self._next = (boot, reset, tick + 1)
        if len(self._early) == STRETCH:
            self._finish()

    def take(self, boot: int, reset: int, first: int, early: Sequence[int], late: Sequence[int]) -> None:
        """Take ticks in a row, likewise."""
        skipped = 0
        if (boot, reset, first) != self._next:
            self._forget()
            skipped = -first % STRETCH
            if skipped >= len(early):
                return
        try:
            self._early.extend(early[skipped:])
            self._late.extend(late[skipped:])
        except (OverflowError, TypeError):
            self._forget()
            return
        self._next = (boot, reset, first + len(early))
        while len(self._early) >= STRETCH:
            self._finish()

    def _finish(self) -> None:
        """The first stretch in hand is whole."""
        assert self._next is not None
        boot, reset, after = self._next
        stretch = (after - len(self._early)) // STRETCH
        self.rows.append((boot, reset, stretch, _bytes(self._early[:STRETCH]), _bytes(self._late[:STRETCH])))
        del self._early[:STRETCH], self._late[:STRETCH]

    def _forget(self) -> None:
        """Give up the stretch in hand."""
        if self._next is not None:
            self._next = None
            del self._early[:], self._late[:]


def side_by_side(samples: Iterable[int | None]) -> bytes | None:
    """Give samples as `trace` has them, or None where one is missing or has more than 16 bits."""
    try:
        return _bytes(array("H", samples))  # type: ignore[arg-type]
    except (OverflowError, TypeError):
        return None


def _bytes(samples: array[int]) -> bytes:
    if sys.byteorder == "big":
        samples.byteswap()
    return samples.tobytes()
