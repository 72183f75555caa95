"""The firmware on the real CircuitPython, on an emulated board, driven through the ordinary session.

`make test-emulated UF2=path/to/circuitpython.uf2` runs it; with `LONG=1` it counts as far as the documentation says.
"""

from __future__ import annotations

import os
import random
import re
from pathlib import Path

import pytest

from handtick.bench import Bench
from handtick.events import Event, Notice, State, Tick
from handtick.log import LogReader
from handtick.log.check import check
from handtick.opening import open_link
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.wiring import Wiring
from tests.emulated.conftest import firmware_files, image
from tests.emulated.emulated_board import EmulatedBoard

pytestmark = pytest.mark.needs_image

LONG = bool(os.environ.get("HANDTICK_LONG"))
PRESSES = 1000 if LONG else 40
COMMANDS = 1000 if LONG else 60
TICKS = 20_000 if LONG else 400
STALL_S = 5.0
STEP_NS = 1_000_000
SEED = int(os.environ.get("HANDTICK_SEED", "20"))


def test_boots_without_an_error_and_has_heap_to_spare(board: EmulatedBoard) -> None:
    """From a drive with nothing but the firmware: no traceback, and at least 30 kB of heap free with the ring made."""
    assert "Traceback" not in board.console
    found = re.search(r"heap free (\d+) bytes", board.console)
    assert found is not None
    assert int(found[1]) >= 30_000
    assert not any(level for _, level in board.edges), "no rising edge before anybody asked for one"


def test_greets_and_steps(board: EmulatedBoard, tmp_path: Path) -> None:
    """It says who it is, and three steps are three edges and three ticks, each phase as long as asked."""
    with open_link(board, tmp_path / "log.sqlite3", Wiring()) as bench:
        before = len(board.rising_ns)
        assert bench.greeting is not None
        assert bench.greeting.fields["engine"] in ("software", "pio")
        ticks = bench.step(3)
    assert [tick.tick for tick in ticks] == [1, 2, 3]
    assert len(board.rising_ns) == before + 3
    board.set_open(True)


def test_every_press_is_one_edge(board: EmulatedBoard) -> None:
    """Presses with random bounce, at press and release, each make exactly one edge on the pin."""
    chance = random.Random(SEED)
    bench = Bench(board)
    bench.open()
    for number in range(PRESSES):
        before = len(board.rising_ns)
        board.press(_bouncing(chance), 0.002 + chance.random() / 1000)
        bench.listen(0.001)
        board.run(0.16)
        assert len(board.rising_ns) == before + 1, f"press {number} of seed {SEED}"
    bench.listen(0.1)
    assert min(board.phases_ns()[1:]) >= STEP_NS
    assert bench.status().fields["edges"] == len(board.rising_ns)


def test_edges_on_the_pin_are_the_edge_count_whatever_is_asked(board: EmulatedBoard, tmp_path: Path) -> None:
    """Random commands, many of them refused or cut short: every edge on the pin is counted, and the log adds up."""
    chance = random.Random(SEED + 1)
    board.set_open(True)
    path = tmp_path / "log.sqlite3"
    with open_link(board, path, Wiring()) as bench:
        for _ in range(COMMANDS):
            kind, *values = chance.choice(
                [
                    ("step", chance.randrange(1, 6)),
                    ("half",),
                    ("burst", chance.randrange(1, 12), "100"),
                    ("run", str(chance.choice([20, 200, 1000]))),
                    ("to", bench.tick + chance.randrange(-2, 6), "500"),
                    ("halt",),
                    ("rate", "50"),
                    ("reset",),
                    ("status",),
                ]
            )
            bench.send(kind, *values)
            bench.listen(0.001)
            board.run(chance.random() / 30)
        bench.ask("halt")
        board.run(0.1)
        now = bench.status().fields
        assert now["mode"] == "rest"
        assert now["edges"] == len(board.rising_ns)
    assert min(board.phases_ns()[1:]) >= 500_000
    assert [finding.text for finding in check(path) if finding.kind == "wrong"] == []
    board.set_open(True)


def test_heap_does_not_fall_with_ticks(board: EmulatedBoard) -> None:
    """Ticks that are told and logged take no memory that is not given back."""
    bench = Bench(board)
    bench.open()
    heard: list[int] = []
    bench.also(lambda event: heard.append(event.tick) if isinstance(event, Tick) else None)
    start = bench.tick
    for _ in range(4):
        bench.ask("step", TICKS // 4)
    assert heard == list(range(start + 1, start + 1 + TICKS))
    assert bench.status().fields["lost"] == 0


@pytest.mark.fault(
    "board",
    "DTR drops in the middle of a run, on the real runtime",
    "no phase too short, no edge unasked",
)
def test_host_that_does_not_read_and_closes_makes_no_edge_too_many(board: EmulatedBoard, tmp_path: Path) -> None:
    """At 200 Hz with nobody reading, then DTR down and up: no short phase, no edge unasked, and the log is true."""
    path = tmp_path / "log.sqlite3"
    board.set_open(True)
    bench = open_link(board, path, Wiring())
    before, edges, phases = len(board.rising_ns), bench.edges, len(board.phases_ns())
    bench.run("200")
    board.set_reading(False)
    board.run(STALL_S)
    stalled = len(board.rising_ns) - before
    assert stalled > 100
    board.set_reading(True)
    bench.halt()
    board.run(0.05)
    made = len(board.rising_ns) - before
    assert bench.edges - edges == made
    bench.close()
    board.run(0.2)
    assert len(board.rising_ns) == before + made
    board.set_open(True)
    board.run(0.2)
    with open_link(board, path, Wiring()) as again:
        assert again.edges == len(board.rising_ns)
    with LogReader.open(path) as log:
        assert log.gaps() == []
    assert [finding.text for finding in check(path) if finding.kind == "wrong"] == []
    assert min(board.phases_ns()[phases:]) >= STEP_NS
    board.set_open(True)


@pytest.mark.fault(
    "board",
    "the board is reset while the clock line is high",
    "one falling edge, no rising one; a new boot number",
)
def test_hard_reset_while_the_clock_is_high_makes_no_rising_edge() -> None:
    """A reset may cut a high phase; until somebody asks, no edge rises, and the next greeting has a new boot number."""
    path = image()
    board = EmulatedBoard(path, firmware_files())
    board.run_until(lambda: "handtick: ready" in board.console, 12)
    first = Bench(board)
    first.open()
    assert first.greeting is not None
    boot = first.greeting.boot
    first.send("half")
    board.run(0.05)
    assert board.edges[-1][1] is True
    rising = len(board.rising_ns)
    board.console = ""
    board.hard_reset()
    board.run_until(lambda: "handtick: ready" in board.console, 12)
    board.run(0.1)
    assert len(board.rising_ns) == rising
    assert board.edges[-1][1] is False
    second = Bench(board)
    greeting = second.open()
    assert greeting.boot == boot + 1
    assert (greeting.tick, greeting.edges) == (0, 0)
    second.step(1)
    assert len(board.rising_ns) == rising + 1


def test_rain_tally_runs_to_its_end_as_on_the_virtual_board(tmp_path: Path) -> None:
    """Larch, wired to the emulated pins, is stepped through its program by the real runtime: the same 138 ticks."""
    path = image()
    board = EmulatedBoard(path, firmware_files())
    board.wire(Larch(RAIN_TALLY))
    board.run_until(lambda: "handtick: ready" in board.console, 12)
    seen: list[Event] = []
    with open_link(board, tmp_path / "log.sqlite3", Wiring(), seen.append) as bench:
        bench.reset()
        seen.clear()
        bench.run("100")
        bench.listen_until(lambda: any(isinstance(event, State) and event.mode == "rest" for event in seen), 5.0)
    ticks = [event for event in seen if isinstance(event, Tick)]
    larch = Larch(RAIN_TALLY)
    larch.set_reset(True)
    larch.set_reset(False)
    for tick in ticks:
        assert tick.early == larch.probes()
        larch.set_clock(True)
        assert tick.late == larch.probes()
        larch.set_clock(False)
    assert len(ticks) == 138
    assert larch.halted
    assert not any(isinstance(event, Notice) for event in seen)


def _bouncing(chance: random.Random) -> list[tuple[int, int]]:
    """A press as contacts make them: it bounces for up to 3 ms at each end, and is held for 20 to 60 ms."""
    train: list[tuple[int, int]] = []
    at_us = 0
    for start, end, closed in ((0, 3000, 1), (20_000 + chance.randrange(40_000), 3000, 0)):
        at_us = max(at_us, start)
        stop_us = at_us + chance.randrange(end)
        level = closed
        while at_us < stop_us:
            train.append((at_us, level))
            at_us += chance.randrange(5, 600)
            level ^= 1
        train.append((at_us, closed))
        at_us += 1000
    return train
