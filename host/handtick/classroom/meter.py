"""How much one person may send: so much at once, and so much a second after that."""

from __future__ import annotations

#: Messages at once, and a second. A finger on a key makes less.
AT_ONCE = 40
A_SECOND = 15.0
#: Notes at once, and a second: each is written to the disk at once.
NOTES_AT_ONCE = 5
NOTES_A_SECOND = 0.5


class Meter:
    """An allowance that fills up as time goes by.

    Args:
        now_s: the time, in seconds of any clock that only goes on.
        at_once: how much there is at most.
        a_second: how much of it comes back in a second.
    """

    def __init__(self, now_s: float, at_once: float = AT_ONCE, a_second: float = A_SECOND) -> None:
        self._at_once = self._left = float(at_once)
        self._a_second = a_second
        self._seen_s = now_s

    def take(self, now_s: float, much: float = 1.0) -> bool:
        """Whether there is room for one more message, or so much, at ``now_s``."""
        self._left = min(self._at_once, self._left + self._a_second * (now_s - self._seen_s))
        self._seen_s = now_s
        if self._left < much:
            return False
        self._left -= much
        return True
