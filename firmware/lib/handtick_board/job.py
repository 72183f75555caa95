"""What the clock was asked for: how many ticks, at what widths, and who waits for the answer."""

from __future__ import annotations

ENDLESS = -1
NOBODY = -1


class Job:
    """One request for ticks.

    Args:
        asked: how it reads in reports, without spaces, such as ``step:3``.
        count: ticks, 1 or more, or ``ENDLESS``.
        high, low: least length of each high and of each low phase, in the clock engine's units.
        command_id: the command to answer when it ends, or ``NOBODY``.
        by_hand: whether it is a press of the tick button.
        steady: whether the widths are fixed, so that a new rate leaves them alone.
        traced: whether samples are wanted of all its ticks, or of the last ones only.
        rate_mhz: the rate that it makes the present one, in thousandths of a hertz; 0 where it leaves that alone.
    """

    def __init__(
        self,
        asked: str,
        count: int,
        high: int,
        low: int,
        command_id: int = NOBODY,
        by_hand: bool = False,
        steady: bool = False,
        traced: bool = True,
        rate_mhz: int = 0,
    ) -> None:
        self.asked = asked
        self.count = count
        self.high = high
        self.low = low
        self.command_id = command_id
        self.by_hand = by_hand
        self.steady = steady
        self.traced = traced
        self.rate_mhz = rate_mhz
        self._end_edges = 0

    def start(self, edges: int) -> None:
        """Notes the edge count that the job starts from."""
        self._end_edges = edges + self.count

    def remaining(self, edges: int) -> int:
        """How many ticks are still to be made at this edge count."""
        return ENDLESS if self.count == ENDLESS else self._end_edges - edges
