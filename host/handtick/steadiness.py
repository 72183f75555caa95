"""How steady the clock is, from the board's own times of its active edges."""

from __future__ import annotations

import itertools
import statistics
from collections.abc import Sequence
from dataclasses import dataclass

from handtick.events import Tick


@dataclass(frozen=True, slots=True)
class Steadiness:
    """What one burst came to; times in microseconds.

    Attributes:
        asked_us: the period that was asked for.
        given_us: the period that the clock engine said it would give; equal to ``asked_us`` where it said none.
        high_us: the high phase that it makes, within each period.
        periods_us: all of them, in order.
    """

    asked_us: float
    given_us: float
    high_us: float
    periods_us: tuple[int, ...]

    @property
    def mean_us(self) -> float:
        """The mean period."""
        return statistics.fmean(self.periods_us)

    @property
    def least_us(self) -> int:
        """The shortest period."""
        return min(self.periods_us)

    @property
    def most_us(self) -> int:
        """The longest period."""
        return max(self.periods_us)

    @property
    def jitter_us(self) -> int:
        """The longest period less the shortest."""
        return self.most_us - self.least_us


def steadiness(ticks: Sequence[Tick], asked_hz: float, given_hz: float, high_us: float) -> Steadiness:
    """Works out a burst.

    Args:
        ticks: its ticks, in order, 3 or more.
        asked_hz, given_hz: the rate asked for, and what the clock engine said; 0 where it said nothing.
        high_us: the high phase that the clock engine makes.

    Raises:
        ValueError: there are too few ticks.
    """
    if len(ticks) < 3:
        raise ValueError(f"{len(ticks)} ticks have no periods to compare")
    periods = tuple(after.time_us - before.time_us for before, after in itertools.pairwise(ticks))
    asked_us = 1e6 / asked_hz
    return Steadiness(asked_us, 1e6 / given_hz if given_hz else asked_us, high_us, periods)


def histogram(periods_us: Sequence[int], rows: int = 7) -> list[tuple[int, int, int]]:
    """How many periods fall where: (from, to, count) of up to ``rows`` classes of whole microseconds, both included."""
    least, most = min(periods_us), max(periods_us)
    width = max(1, -(-(most - least + 1) // rows))
    classes = []
    for start in range(least, most + 1, width):
        end = min(start + width - 1, most)
        classes.append((start, end, sum(start <= period <= end for period in periods_us)))
    return classes
