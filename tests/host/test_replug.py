"""Plugged in and out all evening: nothing is left open, running or locked."""

from __future__ import annotations

import contextlib
import os
import random
import threading
import time
from pathlib import Path

import pytest

from handtick.errors import HandtickError, NoBoard
from handtick.links.serial_port import SerialLink
from handtick.log import LogReader, LogWriter
from handtick.opening import open_link
from handtick.wiring import Wiring
from tests.host.served import served

ROUNDS = 500 if os.environ.get("HANDTICK_LONG") else 40


def open_files() -> int:
    """How many files this process has open."""
    return len(os.listdir("/proc/self/fd"))  # noqa: PTH208 - read at one instant


def patiently(name: str) -> SerialLink:
    """Opens a port that was closed a moment ago."""
    until = time.monotonic() + 10
    while True:
        try:
            return SerialLink(name)
        except NoBoard:
            assert time.monotonic() < until
            time.sleep(0.005)


@pytest.mark.fault(
    "link",
    "cable in and out five hundred times, in the middle of commands too",
    "one count that goes on, gaps with their numbers",
)
def test_port_opened_and_closed_all_evening_leaves_nothing_behind(tmp_path: Path) -> None:
    """Opened, stepped and closed again and again, in the middle of things too, one count goes on, and in the end no
    thread, no open file and no lock is left over."""
    chance = random.Random(7)
    path = tmp_path / "log.sqlite3"
    with served() as serving:
        assert serving.port is not None
        threads = files = 0
        for number in range(ROUNDS):
            if number == 5:
                threads, files = threading.active_count(), open_files()
            with contextlib.suppress(HandtickError), open_link(patiently(serving.port), path, Wiring()) as bench:
                bench.step(chance.randrange(1, 4))
                if chance.random() < 0.3:
                    # The cable is pulled: no goodbye, with a command on its way.
                    bench.send("burst", 50, "1000")
                    bench._link.close()
                    bench._lost = True
        assert threading.active_count() == threads
        assert open_files() == files
    LogWriter.open(path, "virtual-bench", time.time_ns()).close()
    with LogReader.open(path) as log:
        ticks = sum(1 for _ in log.all_ticks())
        missing = sum(gap.last_tick - gap.first_tick + 1 for gap in log.gaps())
    assert ticks >= ROUNDS * 0.5
    last = log_last(path)
    assert ticks + missing == last


def log_last(path: Path) -> int:
    """The last tick the log accounts for."""
    with LogReader.open(path) as log:
        key = log.last_key()
    assert key is not None
    return key[2]
