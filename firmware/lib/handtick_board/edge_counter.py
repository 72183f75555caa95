"""Counts rising edges at the far end of the clock wire, in hardware; to be read only while the clock rests."""

from __future__ import annotations


class EdgeCounter:
    """The counter on one pin.

    Args:
        pin: the pin; on an RP2 chip one with an odd number.
        countio: the module. Reading its counter while edges arrive loses some.
        pull_down: ``digitalio.Pull.DOWN``: a wire that hangs loose counts nothing.
    """

    def __init__(self, pin, countio, pull_down) -> None:
        self._counter = countio.Counter(pin, edge=countio.Edge.RISE, pull=pull_down)

    def read(self) -> int:
        """Edges since the start."""
        count: int = self._counter.count
        return count
