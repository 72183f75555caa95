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

    def take(self, boot: int, reset: int, first: int, early: Sequence[int | None], late: Sequence[int | None]) -> None:
        """Take ticks in a row; what is no sample of 16 bits, or does not go on with what came before, ends it."""
        skipped = 0
        if (boot, reset, first) != self._next:
            self.forget_begun()
            skipped = -first % STRETCH
            if skipped >= len(early):
                return
        try:
            # A None among them is a TypeError.
            self._early.extend(early[skipped:])  # type: ignore[arg-type]
            self._late.extend(late[skipped:])  # type: ignore[arg-type]
        except (OverflowError, TypeError):
            self.forget_begun()
            return
        after = first + len(early)
        self._next = (boot, reset, after)
        while len(self._early) >= STRETCH:
            stretch = (after - len(self._early)) // STRETCH
            self.rows.append((boot, reset, stretch, _bytes(self._early[:STRETCH]), _bytes(self._late[:STRETCH])))
            del self._early[:STRETCH], self._late[:STRETCH]

    def forget_begun(self) -> None:
        """Give up the stretch in hand."""
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
