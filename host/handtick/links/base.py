"""What every link can do: read, write, close, and nothing else."""

from __future__ import annotations

from typing import Protocol


class Link(Protocol):
    """A stream to and from one board."""

    @property
    def name(self) -> str:
        """What the user calls it, such as a port's name."""
        ...

    def read(self, timeout_s: float) -> bytes:
        """Returns what has arrived, waiting at most ``timeout_s`` for the first byte; empty if nothing did.

        Raises:
            LinkLost: the other end is gone.
        """
        ...

    def write(self, data: bytes) -> None:
        """Sends all of ``data``.

        Raises:
            LinkLost: the other end is gone or has taken nothing for too long.
        """
        ...

    def close(self) -> None:
        """Gives the link back; what the board then does is the board's setting. Closing twice is closing once."""
        ...
