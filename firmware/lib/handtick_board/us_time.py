"""Board time: whole microseconds that wrap, so that a microcontroller can hold them without allocating.

A time is 0 to 2**30 - 1 (17 minutes 53 seconds), the most a small whole number of CircuitPython holds. Two times can be
compared as long as they are less than half of that apart; whoever keeps a time longer must give it up before then, as
the one-shot and the clock do by noting "armed" or "rested" instead.
"""

from __future__ import annotations

try:
    from micropython import const
except ImportError:

    def const(expr):  # type: ignore[misc]
        """On the host ``const`` is the value itself."""
        return expr


_MASK = const(0x3FFFFFFF)
_HALF = const(0x20000000)
_BITS = const(30)

#: The longest stretch that can be told apart from a wrap, in microseconds (almost nine minutes).
LONGEST_US = 0x1FFFFFFF


def wrapped(us: int) -> int:
    """A count of microseconds of any size as a board time."""
    return us & _MASK


def elapsed_us(now_us: int, then_us: int) -> int:
    """Microseconds from ``then_us`` to ``now_us``; both board times, ``then_us`` the earlier one."""
    return (now_us - then_us) & _MASK


def reached(now_us: int, due_us: int) -> bool:
    """Whether ``now_us`` is at or after ``due_us``; true for less than half the range of board time."""
    return ((now_us - due_us) & _MASK) < _HALF


class LongTime:
    """Microseconds since the start, 64 bits and more, from board times given in order at least every 17 minutes."""

    def __init__(self) -> None:
        self._wraps = 0
        self._last_us = 0

    def note(self, now_us: int) -> None:
        """Takes the present board time; called each pass of the loop."""
        if now_us < self._last_us:
            self._wraps += 1
        self._last_us = now_us

    def now_us(self) -> int:
        """The whole time of the latest ``note``."""
        return (self._wraps << _BITS) + self._last_us

    def full_us(self, at_us: int) -> int:
        """The whole time that board time ``at_us``, less than nine minutes from the latest ``note``, stands for."""
        return (self._wraps_at(at_us) << _BITS) + at_us

    def era(self, at_us: int, shift: int) -> int:
        """``full_us(at_us) >> shift`` in small numbers; ``shift`` is at most 30."""
        return (self._wraps_at(at_us) << (_BITS - shift)) + (at_us >> shift)

    def _wraps_at(self, at_us: int) -> int:
        # An edge can be a little later than the latest note: the loop stays with a fast clock.
        if ((at_us - self._last_us) & _MASK) < _HALF:
            return self._wraps + 1 if at_us < self._last_us else self._wraps
        return self._wraps - 1 if at_us > self._last_us else self._wraps
