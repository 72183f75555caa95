"""The driver of a bench whose log or link fails: nothing is lost in silence, and no halt is forgotten."""

from __future__ import annotations

import queue
import sqlite3
import threading
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from handtick.bench import Bench
from handtick.errors import LinkLost
from handtick.events import Answer, Event, Greeting, State
from handtick.links.virtual import VirtualLink
from handtick.live.driver import Driver
from handtick.log import LogReader
from handtick.log.check import check
from handtick.opening import open_link
from handtick.virtual.larch_board import larch_board
from handtick.wiring import Wiring

# As long as a test waits for something that should have come at once.
_PATIENCE_S = 20


class Listener:
    """Hears the driver; what is waited for is found in its row."""

    def __init__(self) -> None:
        self._heard: queue.Queue[tuple[str, object]] = queue.Queue()

    def take(self, event: Event) -> None:
        """Something happened."""
        self._heard.put(("event", event))

    def lose(self, message: str) -> None:
        """The board is gone."""
        self._heard.put(("lose", message))

    def say(self, message: str) -> None:
        """Something is to be said."""
        self._heard.put(("say", message))

    def wait(self, enough: Callable[[str, object], bool]) -> object:
        """Waits for something, and returns it."""
        while True:
            how, what = self._heard.get(timeout=_PATIENCE_S)
            if enough(how, what):
                return what

    def words(self, how: str, part: str) -> str:
        """Waits for something said or lost that has these words in it."""
        return str(self.wait(lambda way, what: way == how and part in str(what)))

    def answer(self) -> None:
        """Waits for a command's answer."""
        self.wait(lambda _, what: isinstance(what, Answer))

    def rest(self, tick: int) -> None:
        """Waits until the clock rests at a tick."""
        self.wait(lambda _, what: isinstance(what, State) and what.mode == "rest" and what.tick == tick)


class Breaking(VirtualLink):
    """A link that breaks as a command is sent."""

    breaks_at = b""

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""
        if self.breaks_at and self.breaks_at in data:
            raise LinkLost("virtual: the board is gone; is it still plugged in?")
        super().write(data)


class Desk:
    """A driver of a virtual board, with a log."""

    def __init__(self, folder: Path) -> None:
        self.log, self.away = folder / "log.sqlite3", folder / "away.sqlite3"
        self.board = larch_board()
        self.listener = Listener()
        self.links: list[Breaking] = []
        self.benches: list[Bench] = []
        self.driver = Driver(self.listener, self._open)

    def _open(self) -> Bench:
        self.links.append(Breaking(self.board))
        self.benches.append(open_link(self.links[-1], self.log, Wiring()))
        return self.benches[-1]

    def ticks(self) -> list[int]:
        """The ticks of the log, which adds up."""
        assert [finding.text for finding in check(self.log) if finding.kind != "there"] == []
        with LogReader.open(self.log) as log:
            return [tick.tick for tick in log.all_ticks()]


@pytest.fixture
def desk(tmp_path: Path) -> Iterator[Desk]:
    """A desk whose driver has greeted the board."""
    desk = Desk(tmp_path)
    desk.driver.start()
    try:
        desk.listener.wait(lambda _, what: isinstance(what, Greeting))
        yield desk
    finally:
        desk.driver.stop()


@pytest.mark.fault(
    "log",
    "another program holds the log as a run ends, under a panel or a class",
    "an error, and when the log is written again; every tick goes in",
)
def test_a_log_that_is_held_as_a_run_ends_is_gone_on_with(desk: Desk) -> None:
    """The driver says that rows wait, goes on with the clock, and says when they are in."""
    other = sqlite3.connect(desk.log, isolation_level=None)
    other.execute("BEGIN IMMEDIATE")
    desk.driver.send("step", 3)
    desk.listener.words("say", "another program holds it")
    other.execute("ROLLBACK")
    other.close()
    desk.listener.words("say", "the log is written again; nothing is lost")
    desk.driver.send("step", 2)
    desk.listener.rest(5)
    desk.driver.stop()
    assert len(desk.benches) == 1
    assert desk.driver.failed is None
    assert desk.ticks() == [1, 2, 3, 4, 5]


@pytest.mark.fault(
    "log",
    "the log is moved away under a panel or a class, and put back",
    "that it is gone; once it is back, every tick goes in",
)
def test_a_log_that_was_moved_takes_what_waited_once_it_is_back(desk: Desk) -> None:
    """No second log is begun at its name, and nothing that was said to wait is lost."""
    desk.driver.send("step", 5)
    desk.listener.rest(5)
    desk.log.rename(desk.away)
    desk.driver.send("step", 5)
    desk.listener.words("say", "put it back")
    assert not desk.log.exists()
    desk.away.rename(desk.log)
    desk.listener.words("say", "the log is written again")
    desk.driver.stop()
    assert desk.ticks() == list(range(1, 11))


def test_rows_that_no_log_took_to_the_end_are_said_to_be_lost(desk: Desk) -> None:
    """Where the log is still away as the program ends, what is lost is said, and kept for whoever started it."""
    desk.log.rename(desk.away)
    desk.driver.send("step", 5)
    desk.listener.words("say", "rows wait in memory")
    desk.driver.stop()
    desk.listener.words("say", "rows are lost")
    assert "rows are lost" in str(desk.driver.failed)
    assert not desk.log.exists()


def test_no_new_log_is_begun_at_the_name_of_one_that_was_there(desk: Desk) -> None:
    """With the log away and the board gone and back, the driver waits for the log and then goes on in it."""
    desk.driver.send("step", 2)
    desk.listener.rest(2)
    desk.log.rename(desk.away)
    desk.links[-1].breaks_at = b" step "
    desk.driver.send("step", 1)
    desk.listener.words("lose", "was moved or removed while in use; put it back, or start anew for a new log")
    assert not desk.log.exists()
    desk.away.rename(desk.log)
    desk.listener.wait(lambda _, what: isinstance(what, Greeting))
    desk.driver.send("step", 1)
    desk.listener.rest(3)
    desk.driver.stop()
    assert desk.ticks() == [1, 2, 3]


@pytest.mark.fault(
    "link",
    "the cable is pulled in the moment in which a halt is sent",
    "the clock is halted when the board is back",
)
def test_a_halt_that_could_not_be_sent_is_sent_when_the_board_is_back(desk: Desk) -> None:
    """Whoever pressed halt has halted, though the link broke at that very moment."""
    desk.driver.send("ignore_halt", 10**6)
    desk.links[-1].breaks_at = b" halt "
    desk.driver.send("halt")
    desk.listener.words("lose", "the board is gone")
    desk.listener.wait(lambda _, what: isinstance(what, Greeting))
    # The answers to its status and to the halt.
    desk.listener.answer()
    desk.listener.answer()


def test_a_driver_that_can_do_no_more_says_so(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An error of handtick's own, wherever it comes from, is shown to the user, and no thread ends in silence."""
    monkeypatch.setattr(threading, "excepthook", lambda _: None)

    def opens() -> Bench:
        bench = open_link(VirtualLink(larch_board()), tmp_path / "log.sqlite3", Wiring())
        closes = bench.close

        def close() -> None:
            closes()
            raise ValueError("run 2 is not open")

        bench.close = close  # type: ignore[method-assign]
        return bench

    listener = Listener()
    driver = Driver(listener, opens)
    driver.start()
    listener.wait(lambda _, what: isinstance(what, Greeting))
    driver.stop()
    listener.words("lose", "an error of handtick's own: ValueError: run 2 is not open")
