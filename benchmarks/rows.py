"""What a benchmark says: one figure, the floor it is held against, and their ratio, measured in turns in one run."""

from __future__ import annotations

import statistics
import time
from collections.abc import Callable, Iterable
from dataclasses import dataclass

RUNS = 5


@dataclass(frozen=True, slots=True)
class Row:
    """One line of the table.

    Attributes:
        what: what was measured.
        figure: the median, with its unit.
        floor: what it is held against, with its median; empty where there is nothing.
        ratio: figure against floor; the text of ``floor`` and ``aim`` say which way is good. None without a floor.
        runs: how many runs the medians are of.
        aim: what the ratio or the figure should be; empty for nothing.
    """

    what: str
    figure: str
    floor: str = ""
    ratio: float | None = None
    runs: int = RUNS
    aim: str = ""


Work = Callable[[], object]


def seconds(*works: Work, runs: int = RUNS, clock: Callable[[], float] = time.process_time) -> list[float]:
    """The median time each work takes, in seconds.

    They take turns, so that whatever else the computer does meets all of them.

    Args:
        works: what is timed.
        runs: how many times each.
        clock: this process's own time on a processor, which other programs do not add to; or ``time.perf_counter``, the
            time that somebody waits.
    """
    took: list[list[float]] = [[] for _ in works]
    for _ in range(runs):
        for work, times in zip(works, took, strict=True):
            began = clock()
            work()
            times.append(clock() - began)
    return [statistics.median(times) for times in took]


def speed(
    what: str,
    ours: Work,
    floor_name: str,
    floor: Work,
    count: int,
    runs: int = RUNS,
    aim: str = "",
    floor_count: int | None = None,
) -> Row:
    """A row of ticks a second; the ratio is ours against the floor's, so 1 is as fast and more is faster.

    Args:
        what: what is measured.
        ours: makes ``count`` ticks.
        floor_name: what the floor is.
        floor: makes ``floor_count`` ticks, or ``count`` where that is None.
        count: how many.
        runs: how many times each.
        aim: what the ratio should be.
        floor_count: see ``floor``.
    """
    ours_s, floor_s = seconds(ours, floor, runs=runs)
    floor_rate = (floor_count or count) / floor_s
    held = f"{floor_name}: {per_second(floor_rate)}"
    return Row(what, per_second(count / ours_s), held, count / ours_s / floor_rate, runs, aim)


def per_second(rate: float) -> str:
    """Ticks a second with three digits that count."""
    for step, letter in ((1e6, "M"), (1e3, "k")):
        if rate >= step:
            return f"{three(rate / step)} {letter} ticks/s"
    return f"{three(rate)} ticks/s"


def milliseconds(value_s: float) -> str:
    """A time with three digits that count."""
    return f"{three(value_s * 1000)} ms"


def three(value: float) -> str:
    """A number with three digits that count."""
    return f"{value:.3g}" if value < 1000 else f"{value:.0f}"


def drain(items: Iterable[object]) -> int:
    """Takes all items; gives how many they are."""
    return sum(1 for _ in items)
