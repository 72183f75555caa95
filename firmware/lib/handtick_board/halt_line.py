"""The machine's halt line: judged at a tick boundary; pulses between two boundaries are counted, not obeyed."""

from __future__ import annotations

from .us_time import LONGEST_US, elapsed_us


class HaltLine:
    """The halt line's level as last seen, and the pulses that came and went without stopping the clock.

    Args:
        pin: ``value`` True while the machine asks for a halt; None where levels come from ``update`` alone.

    Attributes:
        asserted: whether the line asks the clock to stop.
        short_pulses: assertions that were over before a boundary came.
        last_pulse_us: how long the latest of those lasted, in microseconds, as far as the loop could see.
    """

    def __init__(self, pin=None) -> None:
        self._pin = pin
        self.asserted = False
        self.short_pulses = 0
        self.last_pulse_us = 0
        self._since_us = 0
        # Whether the assertion has outlived any pulse, or met the clock at rest.
        self._over = False
        self._edges_before = 0

    @property
    def now(self) -> bool:
        """Whether it asks for a halt at this moment, or did when it was last looked at."""
        return self.asserted or (self._pin is not None and bool(self._pin.value))

    def update(self, at_us: int, asserted: bool, edges: int, moving: bool) -> bool:
        """Takes the line's level from ``at_us`` on.

        Args:
            at_us: board time.
            asserted: the level, already freed of polarity.
            edges: the clock's edge count: a pulse that saw an edge come was not short, the clock was told to go on.
            moving: whether the clock is making ticks; at rest nothing can be cut short.

        Returns:
            Whether a short pulse has just ended.
        """
        if asserted == self.asserted:
            if asserted and (not moving or elapsed_us(at_us, self._since_us) > LONGEST_US >> 1):
                self._over = True
            return False
        self.asserted = asserted
        if asserted:
            self._since_us = at_us
            self._over = not moving
            self._edges_before = edges
            return False
        if not moving or self._over or edges != self._edges_before:
            return False
        self.short_pulses += 1
        self.last_pulse_us = elapsed_us(at_us, self._since_us)
        return True
