"""How late the news of a shared clock reaches a class, and whether the clock notices the class."""

from __future__ import annotations

import statistics
from collections.abc import Iterator

from benchmarks.class_run import RATE_HZ, Run, ticks_a_second
from benchmarks.rows import Row, milliseconds, per_second

TITLE = "A class"
NOTE = (
    f"The server of `handtick share` in one process, a virtual board at {RATE_HZ} ticks a second in another, all "
    "viewers in a third, each with a WebSocket of its own. The delay is from the moment at which news begins to be "
    "drawn up, at most twenty times a second, until a viewer has it; its runs are the pieces of news. The clock runs "
    "without viewers first. `make bench-class` watches for longer, and with more."
)
_VIEWERS = (10, 100, 300)
_SECONDS = 8.0


def rows() -> Iterator[Row]:
    """Delay and clock for classes of several sizes."""
    for many in _VIEWERS:
        run = Run(many, _SECONDS, _SECONDS)
        drawn, delivered, delays_ms = run.news()
        late_s = delays_ms[int(0.99 * len(delays_ms))] / 1000
        beside = f"99th percentile: {milliseconds(late_s)}, longest: {milliseconds(delays_ms[-1] / 1000)}"
        middle = milliseconds(statistics.median(delays_ms) / 1000)
        yield Row(f"delay at {many} viewers, {delivered:.0f} % delivered", middle, beside, runs=drawn)
        alone, crowd = ticks_a_second(run.alone, _SECONDS), ticks_a_second(run.crowd, _SECONDS)
        floor = f"without viewers: {per_second(alone)}"
        yield Row(f"the clock with {many} viewers", per_second(crowd), floor, crowd / alone, 1, "about 1")
