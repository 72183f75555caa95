"""What the machine's clock may not do: some processors forget what they hold when a phase lasts too long."""

from __future__ import annotations

from handtick_wire import reasons

#: At which levels the clock may stop.
MAY_STOP = ("yes", "low", "high", "no")


class ClockLimits:
    """The limits of one machine.

    Args:
        may_stop: one of ``MAY_STOP``: at either level, at one of them, or at none.
        longest_high_us, longest_low_us: the longest phases, in microseconds; 0 for no limit.
    """

    def __init__(self, may_stop: str = "yes", longest_high_us: int = 0, longest_low_us: int = 0) -> None:
        self.may_stop = may_stop
        self._longest_high_us = longest_high_us
        self._longest_low_us = longest_low_us

    def may_rest(self, high: bool) -> bool:
        """Whether the clock may stay at a level for as long as it likes."""
        return self.may_stop in ("yes", "high" if high else "low")

    def breaks(self, high: int, low: int, units_per_us: int, rests_high: bool, rests: bool) -> str:
        """Why ticks with such phases, in units, can't be made; empty where they can.

        Args:
            high, low: lengths of the phases, in units.
            units_per_us: units a microsecond.
            rests_high: the level at which the clock rests.
            rests: whether the clock comes to rest after them.
        """
        for phase, longest_us in ((high, self._longest_high_us), (low, self._longest_low_us)):
            if longest_us and phase > longest_us * units_per_us:
                return reasons.PHASE_TOO_LONG
        return reasons.MAY_NOT_STOP if rests and not self.may_rest(rests_high) else ""
