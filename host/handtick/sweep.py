"""Finds how fast a machine goes: the same run at rising rates, each compared with a slow one."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

#: The search ends when the two sides are this near, as a ratio.
NEAR = 1.05


@dataclass(frozen=True, slots=True)
class Attempt:
    """One run.

    Attributes:
        rate_mhz: asked for, in thousandths of a hertz.
        tick: the first tick that was wrong; None where the run was right.
        lines: the lines that were wrong there.
    """

    rate_mhz: int
    tick: int | None = None
    lines: tuple[str, ...] = ()

    @property
    def good(self) -> bool:
        """Whether the run was right."""
        return self.tick is None


@dataclass(frozen=True)
class Limit:
    """What a sweep found.

    Attributes:
        last_good: the fastest rate at which every run was right, in thousandths of a hertz.
        first_bad: the slowest attempt that was wrong; None where none was.
        attempts: all runs, in the order made.
        speed: whether rate has to do with it: False where the slowest rate fails as well.
    """

    last_good: int
    first_bad: Attempt | None
    attempts: tuple[Attempt, ...]
    speed: bool = True


def sweep(run: Callable[[int], Attempt], slow_mhz: int, fast_mhz: int, repeats: int = 5) -> Limit:
    """Bisects, on a ratio scale, between a slow and a fast rate, and repeats near the limit.

    Args:
        run: makes the run at a rate in thousandths of a hertz and compares it.
        slow_mhz, fast_mhz: between which rates to look.
        repeats: how often the last good rate must be right before it counts.
    """
    attempts = [run(slow_mhz)]
    if not attempts[0].good:
        return Limit(0, attempts[0], tuple(attempts), speed=False)
    good, bad = slow_mhz, None
    attempts.append(run(fast_mhz))
    if attempts[-1].good:
        good = fast_mhz
    else:
        bad = attempts[-1]
    while True:
        while bad is not None and bad.rate_mhz > NEAR * good:
            attempts.append(run(_between(good, bad.rate_mhz)))
            if attempts[-1].good:
                good = attempts[-1].rate_mhz
            else:
                bad = attempts[-1]
        again = [run(good) for _ in range(repeats - 1)]
        attempts += again
        wrong = [attempt for attempt in again if not attempt.good]
        if not wrong or good == slow_mhz:
            if wrong:
                return Limit(0, wrong[0], tuple(attempts), speed=False)
            return Limit(good, bad, tuple(attempts))
        # Right once and wrong once: the limit lies below.
        good, bad = slow_mhz, wrong[0]


def _between(low: int, high: int) -> int:
    """The rate whose ratio to both is the same, never one of them."""
    middle = math.isqrt(low * high)
    return min(max(middle, low + 1), high - 1)
