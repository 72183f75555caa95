"""How much one person may send: so many messages at once, and so many a second after that."""

from __future__ import annotations

#: Messages at once, and a second. A finger on a key makes less.
AT_ONCE = 40
A_SECOND = 15.0


class Meter:
    """One person's allowance, which fills up as time goes by."""

    def __init__(self, now_s: float) -> None:
        self._left = float(AT_ONCE)
        self._seen_s = now_s

    def take(self, now_s: float) -> bool:
        """Whether there is room for one more message at ``now_s``."""
        self._left = min(float(AT_ONCE), self._left + A_SECOND * (now_s - self._seen_s))
        self._seen_s = now_s
        if self._left < 1.0:
            return False
        self._left -= 1.0
        return True
