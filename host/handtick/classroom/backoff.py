"""When to try again: soon at first, then more and more seldom."""

from __future__ import annotations

SOON_S = 0.5
SELDOM_S = 30.0
#: Seconds that a connection must have lasted to have been one.
LASTING_S = 10.0


class Backoff:
    """Says how long to wait for the next try."""

    def __init__(self) -> None:
        self._next_s = SOON_S
        self._began_s: float | None = None

    @property
    def connected(self) -> bool:
        """Whether there is a connection, or was until just now."""
        return self._began_s is not None

    def began(self, now_s: float) -> None:
        """A connection has begun, at ``now_s`` of any clock that only goes on."""
        self._began_s = now_s

    def wait_s(self, now_s: float) -> float:
        """Seconds to wait before the next try, asked when a connection or a try has ended."""
        if self._began_s is not None and now_s - self._began_s >= LASTING_S:
            self._next_s = SOON_S
        self._began_s = None
        wait_s, self._next_s = self._next_s, min(SELDOM_S, 2 * self._next_s)
        return wait_s
