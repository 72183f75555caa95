"""How long a step takes, from a program's call to the tick in its hand and on its way into the log."""

from __future__ import annotations

import json
import subprocess
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from benchmarks.heard import larch_wiring
from benchmarks.rows import Row, milliseconds, seconds
from benchmarks.start_up import HANDTICK
from handtick.bench import Bench
from handtick.links.base import Link
from handtick.links.serial_port import SerialLink
from handtick.links.virtual import VirtualLink
from handtick.opening import open_link
from handtick.virtual.larch_board import larch_board
from handtick.virtual.rain_tally import LONG_TALLY

TITLE = "From a step to its answer"
NOTE = (
    "`bench.step(1)`, logged. In memory the board's time is virtual; at the ports `handtick virtual` serves in a "
    "process of its own, at the pace of the wall clock, and a step's two phases of 1 ms are part of the answer."
)
_STEPS = 300
_TICK_S = 0.002


def rows() -> Iterator[Row]:
    """Over memory, a pseudo-terminal and a socket."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        took_s = _median_s(VirtualLink(larch_board(LONG_TALLY)), folder / "memory.sqlite3")
        yield Row("in memory", milliseconds(took_s), runs=_STEPS)
        words = [HANDTICK, "virtual", "--tcp", "0", "--program", "long-tally", "--json"]
        with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as serving:
            try:
                assert serving.stdout is not None
                ways = _ways(serving.stdout.readline())
                for what, way in zip(("at a pseudo-terminal", "at a socket"), ways, strict=True):
                    took_s = _median_s(SerialLink(way), folder / "port.sqlite3")
                    floor = f"the step's own two phases: {milliseconds(_TICK_S)}"
                    yield Row(what, milliseconds(took_s), floor, took_s / _TICK_S, _STEPS)
            finally:
                serving.terminate()


def _ways(told: str) -> tuple[str, str]:
    ways = json.loads(told)
    return ways["port"], ways["address"]


def _median_s(link: Link, log: Path) -> float:
    with open_link(link, log, larch_wiring()) as bench:
        return seconds(lambda: _step(bench), runs=_STEPS, clock=time.perf_counter)[0]


def _step(bench: Bench) -> None:
    (tick,) = bench.step(1)
    assert tick.tick == bench.tick
