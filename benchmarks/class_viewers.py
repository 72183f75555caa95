"""A class of hundreds, in all its figures: how much of the news reaches them, how late, and does the clock notice?

Usage: ``python -m benchmarks.class_viewers [VIEWERS [SECONDS]]``. Prints them; see ``class_run`` for what is run.
"""

from __future__ import annotations

import itertools
import statistics
import sys

from benchmarks.class_run import Measured, Run, share_of_core, ticks_a_second

ALONE_S = 20.0


def main(many: int = 300, seconds: float = 60.0) -> None:
    """Measures and prints."""
    run = Run(many, seconds, ALONE_S)
    alone, crowd = run.alone, run.crowd
    drawn, delivered, delays_ms = run.news()
    promptest_us = min(made - edge for edge, made in run.edges_us)
    for name, value in {
        "viewers": f"{many}, {crowd[1]['here']} of them there at the end",
        "seconds": f"{seconds:g}",
        "pieces of news a second": f"{drawn / seconds:.1f}",
        "delivered": f"{delivered:.2f} %",
        "delay, median / 99th percentile / longest (ms)": f"{statistics.median(delays_ms):.1f} / "
        f"{delays_ms[int(0.99 * len(delays_ms))]:.1f} / {delays_ms[-1]:.1f}",
        "memory, without and with viewers (MiB)": f"{alone[1]['memory_mib']:.0f}, {crowd[1]['memory_mib']:.0f}",
        "server's share of one core, without and with (%)": f"{share_of_core(alone, ALONE_S):.0f}, "
        f"{share_of_core(crowd, seconds):.0f}",
        "ticks a second, without and with": f"{ticks_a_second(alone, ALONE_S):.1f}, "
        f"{ticks_a_second(crowd, seconds):.1f}",
        "edges apart on the board's time, without (us)": apart(part(run.edges_us, alone)),
        "with (shortest / median / longest)": apart(part(run.edges_us, crowd)),
        "board's process behind the wall clock, without (ms)": behind(part(run.edges_us, alone), promptest_us),
        "with (median / 99th percentile / longest)": behind(part(run.edges_us, crowd), promptest_us),
        "ticks in the log": f"{run.ticks}, none missing",
        "load of the machine, without and with": f"{alone[2]:.1f}, {crowd[2]:.1f}",
    }.items():
        print(f"{name:>52}  {value}", flush=True)


def part(edges_us: list[list[float]], measured: Measured) -> list[list[float]]:
    """The edges of a span."""
    return edges_us[measured[0]["tick"] : measured[1]["tick"]]


def apart(edges_us: list[list[float]]) -> str:
    """How far apart edges were on the board's own time: shortest, middle, longest."""
    gaps = sorted(later[0] - earlier[0] for earlier, later in itertools.pairwise(edges_us))
    return f"{gaps[0]:.0f} / {statistics.median(gaps):.0f} / {gaps[-1]:.0f}"


def behind(edges_us: list[list[float]], promptest_us: float) -> str:
    """How far the board's process was behind the wall clock when it made edges: middle, 99th percentile, longest."""
    late_ms = sorted((made - edge - promptest_us) / 1000 for edge, made in edges_us)
    return f"{statistics.median(late_ms):.1f} / {late_ms[int(0.99 * len(late_ms))]:.1f} / {late_ms[-1]:.1f}"


if __name__ == "__main__":
    main(*(int(each) for each in sys.argv[1:2]), *(float(each) for each in sys.argv[2:3]))
