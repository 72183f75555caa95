"""How much one person may send: so many messages at once, and so many a second after that."""

from __future__ import annotations

#: Messages at once, and a second. A finger on a key makes less.
AT_ONCE = 40
A_SECOND = 15.0


class Meter:
    """One allowance, which fills up as time goes by.

    Args:
        now_s: when it begins, in seconds of any clock that only goes on.
        at_once: messages at once.
        a_second: messages a second after that.
    """

    def __init__(self, now_s: float, at_once: int = AT_ONCE, a_second: float = A_SECOND) -> None:
        self._most = self._left = float(at_once)
        self._a_second = a_second
        self._seen_s = now_s

    def take(self, now_s: float) -> bool:
        """Whether there is room for one more message at ``now_s``."""
        self._left = min(self._most, self._left + self._a_second * (now_s - self._seen_s))
        self._seen_s = now_s
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True
