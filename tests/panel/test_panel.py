"""The panel, driven by keys against the real session and a virtual board."""

from __future__ import annotations

import asyncio
import contextlib
import time
from collections.abc import Awaitable, Callable
from pathlib import Path

import pytest
from textual.pilot import Pilot
from textual.widgets import Digits, Static

from handtick.bench import Bench
from handtick.errors import LinkLost, NoBoard
from handtick.links.virtual import VirtualLink
from handtick.log import LogReader
from handtick.log.check import check
from handtick.opening import open_link
from handtick.panel.app import RATES, Panel
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch_board import PROGRAMS, larch_board
from handtick.wiring import load_wiring

ROOT = Path(__file__).parents[2]
WIRING = load_wiring(ROOT / "examples" / "larch.toml")


class Cable(VirtualLink):
    """A link whose cable can be pulled, and put back."""

    plugged = True

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``."""
        if not Cable.plugged:
            raise LinkLost("virtual: the board is gone; is it still plugged in?")
        return super().read(timeout_s)


class Evening:
    """A panel on a board, with its log."""

    def __init__(self, folder: Path) -> None:
        Cable.plugged = True
        self.log = folder / "log.sqlite3"
        self.board: VirtualBoard = larch_board(PROGRAMS["long-tally"])
        self.panel = Panel(WIRING, self.open)

    def open(self) -> Bench:
        """Opens the bench, as the panel does each time."""
        if not Cable.plugged:
            raise NoBoard("no board found; plug one in")
        return open_link(Cable(self.board, paced=True), self.log, WIRING)

    def text(self, name: str) -> str:
        """What a part of the window shows."""
        return str(self.panel.query_one(f"#{name}", Static).render())


async def until(pilot: Pilot[None], enough: Callable[[], bool], seconds: float = 30.0) -> None:
    """Lets the panel live until something has come about."""
    end = time.monotonic() + seconds
    while not enough():
        assert time.monotonic() < end, "not in time"
        await pilot.pause(0.02)


def live(
    folder: Path, story: Callable[[Evening, Pilot[None]], Awaitable[None]], size: tuple[int, int] = (80, 24)
) -> Evening:
    """Tells a story in the panel, then ends it."""
    evening = Evening(folder)

    async def run() -> None:
        async with evening.panel.run_test(size=size) as pilot:
            # The board is there, and has answered how it stands: what it said then changes nothing later on.
            await until(pilot, lambda: not evening.panel.state.lost and evening.panel.state.rows()[0][2] != "-")
            await story(evening, pilot)

    asyncio.run(run())
    return evening


def test_every_key_does_what_the_help_says(tmp_path: Path) -> None:
    """Tick, half tick, run and rest, faster and slower, to a tick, stop rule, note, reset, help."""

    async def story(evening: Evening, pilot: Pilot[None]) -> None:
        state = evening.panel.state
        await pilot.press("space", "space", "space")
        await until(pilot, lambda: state.tick == 3 and state.mode == "rest")
        await pilot.press(".")
        await until(pilot, lambda: state.mode == "held")
        await pilot.press(".")
        await until(pilot, lambda: state.mode == "rest" and state.tick == 4)
        await pilot.press("+")
        assert state.rate == RATES[RATES.index("10") + 1]
        await pilot.press("-", "-")
        assert state.rate == RATES[RATES.index("10") - 1]
        await pilot.press("enter")
        await until(pilot, lambda: state.tick >= 6)
        await pilot.press("enter")
        await until(pilot, lambda: state.mode == "rest")
        await pilot.press("#", *"20", "enter")
        await until(pilot, lambda: state.tick == 20 and state.mode == "rest")
        await pilot.press("=", *"taker == 5 or tick == 30", "enter")
        await pilot.press("#", *"200", "enter")
        await until(pilot, lambda: state.tick == 30 and "the stop rule held" in state.clock_words)
        await pilot.press("quotation_mark", *"lamp", "enter")
        await until(pilot, lambda: "noted at tick 30" in state.message)
        await pilot.press("f1")
        assert evening.panel.query_one("#help").has_class("shown")
        await pilot.press("0")
        await until(pilot, lambda: state.tick == 0 and state.reset == 1)

    evening = live(tmp_path, story)
    with LogReader.open(evening.log) as log:
        assert [note.text for note in log.notes()] == ["lamp"]
        assert [tick.tick for tick in log.ticks(1, 0)][:30] == list(range(1, 31))
    assert [finding for finding in check(evening.log) if finding.kind == "wrong"] == []


def test_what_is_shown_is_what_the_board_is_at(tmp_path: Path) -> None:
    """The tick in large figures, the buses with their names and what has changed, the last ticks as a diagram."""

    async def story(evening: Evening, pilot: Pilot[None]) -> None:
        await pilot.press("space", "space")
        await until(pilot, lambda: "tick 2 of reset 0, at rest" in evening.text("clock"))
        assert evening.panel.query_one("#number", Digits).value == "2"
        rows = evening.text("rows")
        assert "giver" in rows
        assert "operand" in rows
        assert "clock" in evening.text("ticks")

    live(tmp_path, story)


def test_mistakes_in_what_is_typed_are_told(tmp_path: Path) -> None:
    """A tick that is none, a rule that can't be read, a tick gone by: a sentence, and no tick."""

    async def story(evening: Evening, pilot: Pilot[None]) -> None:
        state = evening.panel.state
        for keys, says in (
            (("#", *"x", "enter"), "ticks are whole numbers"),
            (("=", *"frob", "enter"), "there is no bus or line frob"),
            (("=", *"data == giver", "enter"), "can't be judged on the board"),
        ):
            await pilot.press(*keys)
            await until(pilot, lambda says=says: says in state.message)  # type: ignore[misc]
        await pilot.press("space")
        await until(pilot, lambda: state.tick == 1)
        await pilot.press("#", "0", "enter")
        await until(pilot, lambda: "refused" in state.message)
        assert state.tick == 1
        await pilot.press("#", "9", "escape")
        await pilot.press("space")
        await until(pilot, lambda: state.tick == 2)

    live(tmp_path, story)


@pytest.mark.fault(
    "link",
    "the board is unplugged and comes back, in the panel",
    "a banner, then it goes on; the gap in the log",
)
def test_lost_board_is_a_banner_and_a_return_by_itself(tmp_path: Path) -> None:
    """Unplugged, the panel says so; plugged in again, it goes on by itself, on one count, with the gap in the log."""

    async def story(evening: Evening, pilot: Pilot[None]) -> None:
        state = evening.panel.state
        await pilot.press("space")
        await until(pilot, lambda: state.tick == 1)
        Cable.plugged = False
        banner = evening.panel.query_one("#banner")
        await until(pilot, lambda: banner.has_class("shown") and "no board" in evening.text("clock"))
        Cable.plugged = True
        await until(pilot, lambda: not banner.has_class("shown"))
        assert not state.lost
        await pilot.press("space")
        await until(pilot, lambda: state.tick == 2)

    evening = live(tmp_path, story)
    assert [finding for finding in check(evening.log) if finding.kind == "wrong"] == []


@pytest.mark.parametrize("size", [(40, 12), (80, 24), (200, 60)])
def test_window_of_any_size_shows_the_tick_and_every_bus(size: tuple[int, int], tmp_path: Path) -> None:
    """Small or large, resized while it lives: tick number, buses and message stay in the window."""

    async def story(evening: Evening, pilot: Pilot[None]) -> None:
        await pilot.resize_terminal(*size)
        await pilot.press("space")
        await until(pilot, lambda: "tick 1" in evening.text("clock"))
        for name in ("clock", "rows", "message"):
            region = evening.panel.query_one(f"#{name}").region
            assert region.height >= 1
            assert region.right <= size[0]
            assert region.bottom <= size[1]
        assert evening.panel.screen.has_class("low") == (size[1] < 18)

    live(tmp_path, story, size=(100, 30))


def test_window_is_drawn_at_most_twenty_times_a_second(tmp_path: Path) -> None:
    """At a thousand ticks a second the window keeps its pace, keys are answered, and the log has every tick."""

    async def story(evening: Evening, pilot: Pilot[None]) -> None:
        state = evening.panel.state
        state.rate = "1000"
        await pilot.press("enter")
        await until(pilot, lambda: state.tick > 50)
        before, began = evening.panel.redraws, time.monotonic()
        await until(pilot, lambda: state.tick > 1000)
        drawn, took = evening.panel.redraws - before, time.monotonic() - began
        assert drawn <= 20 * took + 1
        await pilot.press("enter")
        await until(pilot, lambda: state.mode == "rest")

    evening = live(tmp_path, story)
    with LogReader.open(evening.log) as log:
        ticks = [tick.tick for tick in log.all_ticks()]
    assert ticks == list(range(1, len(ticks) + 1))
    assert len(ticks) > 1000
    with contextlib.suppress(FileNotFoundError):
        assert [finding for finding in check(evening.log) if finding.kind == "wrong"] == []
