"""A log outlives its program, however that ends."""

import os
import random
import shutil
import sqlite3
import subprocess
import sys
from pathlib import Path

import pytest

from handtick.log import LogReader, LogWriter, Tick
from handtick.log.check import check

KILLS = 200 if os.environ.get("HANDTICK_LONG") else 10
NOW = 1_764_000_000_000_000_000
SECOND = 1_000_000_000

# Logs without end, and says after each commit how far it is. Its ticks are those of `expected`.
LOGGING = """
import itertools, random, sys
from handtick.log import LogWriter
path, boot = sys.argv[1], int(sys.argv[2])
chance = random.Random(boot)
with LogWriter.open(path, "shed", boot) as log:
    log.greet(boot, 0, 0, 0, {}, boot)
    run = log.start_run(boot, 0, 1, "run", boot)
    for tick in itertools.count(1):
        log.add_tick(boot, 0, tick, tick * boot % 65536, tick * 7 % 65536, tick * 10, 0)
        if chance.random() < 0.01:
            log.commit(boot)
            print(tick, flush=True)
"""


def expected(boot: int, tick: int) -> Tick:
    """Give the tick that `LOGGING` logs."""
    return Tick(boot, 0, tick, tick * boot % 65536, tick * 7 % 65536, tick * 10, 0)


def killed_after(path: Path, boot: int, commits: int) -> int:
    """Log until some commits are made, kill the program, and give the last tick it said was committed."""
    words = [sys.executable, "-W", "ignore", "-c", LOGGING, str(path), str(boot)]
    with subprocess.Popen(words, stdout=subprocess.PIPE, text=True) as program:
        assert program.stdout is not None
        for _ in range(commits):
            program.stdout.readline()
        program.kill()
        said = program.stdout.read().split("\n")[:-1]
        return int(said[-1]) if said else 0


@pytest.mark.fault(
    "log",
    "the logging program killed at any instant, two hundred times",
    "every committed tick; at most the last second missing",
)
def test_a_killed_program_leaves_a_log_without_a_wrong_tick(tmp_path: Path) -> None:
    """Killed at any instant, a log has every committed tick as it was, no tick with a hole before it, and goes on."""
    path = tmp_path / "log.sqlite3"
    chance = random.Random(20)
    for boot in range(1, KILLS + 1):
        vouched = killed_after(path, boot, chance.randrange(1, 60))
        with LogReader.open(path) as reader:
            ticks = list(reader.ticks(boot, 0))
            assert ticks == [expected(boot, number) for number in range(1, len(ticks) + 1)]
            assert len(ticks) >= vouched
    LogWriter.open(path, "shed", NOW).close()
    with LogReader.open(path) as reader:
        assert [run.why for run in reader.runs()] == ["log was not closed"] * KILLS
        for run in reader.runs():
            assert run.last_tick == sum(1 for _ in reader.ticks(run.boot, 0))
    assert [finding.text for finding in check(path) if finding.kind == "wrong"] == []


@pytest.mark.fault(
    "log",
    "killed while the log is being made",
    "a log, or none",
)
def test_a_program_killed_before_it_has_logged_anything_leaves_a_usable_file(tmp_path: Path) -> None:
    """Killed while the log is being made, the file is new or made, never in between."""
    chance = random.Random(3)
    words = [sys.executable, "-W", "ignore", "-c", LOGGING]
    for number in range(5):
        path = tmp_path / f"{number}.sqlite3"
        with subprocess.Popen([*words, str(path), "1"], stdout=subprocess.DEVNULL) as program:
            while not path.exists():
                assert program.poll() is None
            for _ in range(chance.randrange(5000)):
                path.exists()
            program.kill()
        LogWriter.open(path, "shed", NOW).close()
        with LogReader.open(path) as reader:
            assert reader.board_id == "shed"


@pytest.mark.fault(
    "log",
    "a run that a crash left open",
    "the run ends at its last known tick, and says why",
)
def test_a_run_that_a_crash_left_open_ends_at_its_last_known_tick(tmp_path: Path) -> None:
    """The next opening ends each open run at the last tick or gap logged of it, and says so."""
    path = tmp_path / "log.sqlite3"
    log = LogWriter.open(path, "shed", NOW)
    log.start_run(1, 0, 1, "run", NOW)
    log.add_tick(1, 0, 1, 0, 0, 10, 0)
    log.add_tick(1, 0, 2, 0, 0, 20, 0)
    log.start_run(1, 0, 10, "step 9", NOW)
    log.add_tick(1, 0, 10, 0, 0, 30, 0)
    log.add_gap(1, 0, 11, 15, "not traced", NOW)
    log.start_run(1, 1, 1, "step", NOW)
    log.close()
    with LogReader.open(path) as reader:
        assert [run.last_tick for run in reader.runs()] == [None, None, None]
    LogWriter.open(path, "shed", NOW + SECOND).close()
    LogWriter.open(path, "shed", NOW + 2 * SECOND).close()
    with LogReader.open(path) as reader:
        assert [run.last_tick for run in reader.runs()] == [2, 15, 0]
        assert {run.why for run in reader.runs()} == {"log was not closed"}
        assert {run.ended_ns for run in reader.runs()} == {NOW + SECOND}


def test_program_killed_while_it_closed_its_log_leaves_a_readable_file(tmp_path: Path) -> None:
    """A change to the file that was begun and not finished is taken back by whoever reads it next."""
    path, copy = tmp_path / "log.sqlite3", tmp_path / "copy.sqlite3"
    with LogWriter.open(path, "shed", NOW) as log:
        log.add_tick(1, 0, 1, 0, 0, 10, 0)
    # What a kill in the middle of such a change leaves: the file half changed, and what it held before beside it.
    connection = sqlite3.connect(path, isolation_level=None)
    connection.execute("PRAGMA cache_size = 1")
    connection.execute("BEGIN IMMEDIATE")
    connection.executemany("INSERT INTO tick VALUES (1, 0, ?, 0, 0, 0, 0)", ((tick,) for tick in range(2, 5000)))
    shutil.copy(path, copy)
    shutil.copy(f"{path}-journal", f"{copy}-journal")
    connection.close()
    with LogReader.open(copy) as reader:
        assert [tick.tick for tick in reader.all_ticks()] == [1]
