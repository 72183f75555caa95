"""One run of a class: how much of the news reaches its viewers, how late, and whether the clock notices them.

Three processes: a virtual board, whose clock runs at some hundreds of ticks a second; the server of ``handtick share``
with its session and its log; and the viewers, each a WebSocket of its own. First the clock runs without viewers, then
with them. Asserts that no tick is missing from the log. More viewers than the room takes are let in, to see what
happens.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

RATE_HZ = 300

# The server's figures before and after a span, and the load of the machine at its end.
Measured = tuple[dict[str, Any], dict[str, Any], float]


class Run:
    """One run of all three processes, and what came of it.

    Args:
        many: how many viewers.
        seconds: for how long they watch.
        alone_s: for how long the clock runs without them before.
    """

    def __init__(self, many: int, seconds: float, alone_s: float) -> None:
        self.many, self.seconds, self.alone_s = many, seconds, alone_s
        with tempfile.TemporaryDirectory() as folder:
            log = Path(folder) / "log.sqlite3"
            self._measure(log)
            self.ticks = logged(log)

    def _measure(self, log: Path) -> None:
        machine = Process("board")
        server = Process("serve", machine.line().strip(), str(log), str(self.many + 1))
        where = json.loads(server.line())
        while not server.ask("figures")["mode"]:
            time.sleep(0.1)
        server.ask(f"run {RATE_HZ}")
        time.sleep(1.0)
        self.alone = span(server, self.alone_s)
        crowd = Process("view", str(where["port"]), where["word"], str(self.many))
        crowd.line()
        time.sleep(2.0)
        self.crowd = span(server, self.seconds)
        self.drawn = {int(tick): at for tick, at in server.ask("drawn")["drawn"].items()}
        self.came: list[list[list[float]]] = json.loads(crowd.end())
        server.ask("halt")
        time.sleep(1.0)
        server.end()
        self.edges_us: list[list[float]] = json.loads(machine.end())

    def news(self) -> tuple[int, float, list[float]]:
        """How many pieces of news were drawn up while the viewers watched, which share of them reached a viewer, in
        percent, and after how long, in milliseconds, the promptest first."""
        first, last = self.crowd[0]["tick"], self.crowd[1]["tick"]
        drawn = {tick: at for tick, at in self.drawn.items() if first < tick <= last}
        reached = [{int(tick): at for tick, at in each if tick in drawn} for each in self.came]
        delays_ms = sorted(1000 * (at - drawn[tick]) for each in reached for tick, at in each.items())
        return len(drawn), 100 * len(delays_ms) / (len(drawn) * self.many), delays_ms


def share_of_core(measured: Measured, seconds: float) -> float:
    """How much of one core the server used, in percent."""
    return 100 * (float(measured[1]["cpu_s"]) - float(measured[0]["cpu_s"])) / seconds


def ticks_a_second(measured: Measured, seconds: float) -> float:
    """Ticks a second."""
    return (int(measured[1]["tick"]) - int(measured[0]["tick"])) / seconds


class Process:
    """One of the three processes, by its first argument."""

    def __init__(self, *arguments: str) -> None:
        self._process = subprocess.Popen(
            [sys.executable, "-m", "benchmarks.class_processes", *arguments],
            cwd=Path(__file__).parents[1],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def line(self) -> str:
        """Its next line."""
        assert self._process.stdout is not None
        return self._process.stdout.readline()

    def ask(self, words: str) -> dict[str, Any]:
        """Sends a line and takes the answer."""
        assert self._process.stdin is not None
        self._process.stdin.write(words + "\n")
        self._process.stdin.flush()
        answer: dict[str, Any] = json.loads(self.line())
        return answer

    def end(self) -> str:
        """Lets it end, and gives the rest of what it says."""
        said, _ = self._process.communicate(timeout=120)
        return said


def span(server: Process, seconds: float) -> Measured:
    """Lets time pass: the server's figures before and after, and the load of the machine meanwhile."""
    before = server.ask("figures")
    time.sleep(seconds)
    return before, server.ask("figures"), os.getloadavg()[0]


def logged(path: Path) -> int:
    """How many ticks are in the log, of which none may be missing."""
    from handtick.log import LogReader

    with LogReader.open(path) as reader:
        ticks = [tick.tick for tick in reader.all_ticks()]
    assert ticks == list(range(1, len(ticks) + 1)), "a tick is missing from the log"
    return len(ticks)
