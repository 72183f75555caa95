"""A machine whose clock may not stop, for tests: it waits by its ready line, but not while it writes."""

from __future__ import annotations

from tests.board.still_machine import StillMachine

WRITES = 15


class Waiting(StillMachine):
    """Goes on to its next cycle at a rising edge while it is ready, or writes; probe 15 is high while it writes.

    Args:
        writing: whether the cycle of a number writes.
        high: whether probe 15 is high while it does.

    Attributes:
        cycles: the cycle it is in, from 0.
        edges: rising edges it has seen.
    """

    def __init__(self, writing=lambda cycle: False, high: bool = True) -> None:  # type: ignore[no-untyped-def]
        self.cycles = 0
        self.edges = 0
        self._ready = True
        self._writing = writing
        self._high = high

    def set_ready(self, ready: bool) -> None:
        """Takes the ready line."""
        self._ready = ready

    def set_clock(self, level: bool) -> None:
        """A rising edge."""
        if level:
            self.edges += 1
            self.cycles += self._ready or self._writing(self.cycles)

    def probes(self) -> int:
        """The number of the cycle, and whether it writes."""
        return self.cycles & 0x7FFF | (self._writing(self.cycles) == self._high) << WRITES
