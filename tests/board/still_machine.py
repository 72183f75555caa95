"""Machines for tests: one that does nothing, and one that counts its clock."""

from __future__ import annotations


class StillMachine:
    """A machine whose lines never move."""

    halted = False

    def set_clock(self, level: bool) -> None:
        """Takes the clock line's level."""

    def set_reset(self, asserted: bool) -> None:
        """Takes the reset line's state."""

    def set_pull(self, way: str) -> None:
        """Its lines are driven."""

    def probes(self) -> int:
        """All probes low."""
        return 0


class Counter(StillMachine):
    """A machine that counts rising edges and shows the count on its probes; reset zeroes it."""

    def __init__(self) -> None:
        self.count = 0

    def set_clock(self, level: bool) -> None:
        """Counts a rising edge."""
        self.count += level

    def set_reset(self, asserted: bool) -> None:
        """Zeroes the count."""
        if asserted:
            self.count = 0

    def probes(self) -> int:
        """The count's lower sixteen bits."""
        return self.count & 0xFFFF
