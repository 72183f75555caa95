"""The driver of a bench, over a cable that is pulled."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

from handtick.bench import Bench
from handtick.errors import NoBoard
from handtick.events import Event, Greeting
from handtick.links.virtual import VirtualLink
from handtick.live.driver import Driver
from handtick.log import LogReader
from handtick.opening import open_link
from handtick.virtual.larch_board import larch_board
from handtick.wiring import load_wiring

WIRING = load_wiring(Path(__file__).parents[2] / "examples" / "larch.toml")


class Listener:
    """Hears the driver, and can be waited for."""

    def __init__(self) -> None:
        self.missing, self.there, self.noted = threading.Event(), threading.Event(), threading.Event()

    def take(self, event: Event) -> None:
        """Something happened."""
        if isinstance(event, Greeting):
            self.there.set()

    def lose(self, message: str) -> None:
        """The board is gone."""
        self.missing.set()

    def say(self, message: str) -> None:
        """Something is to be said."""
        self.noted.set()


def driven(opens: Callable[[], Bench], listener: Listener, meanwhile: Callable[[Driver], None]) -> None:
    """Starts a driver, does something while the board is missing, and waits until it was there."""
    driver = Driver(listener, opens)
    driver.start()
    try:
        assert listener.missing.wait(15)
        meanwhile(driver)
        assert listener.there.wait(15)
        assert listener.noted.wait(15)
    finally:
        driver.stop()


def test_what_was_asked_of_a_missing_board_is_not_done_when_it_comes(tmp_path: Path) -> None:
    """Whoever pressed while the cable was out does not move the clock once it is in; notes are written all the same."""
    board, log, listener = larch_board(), tmp_path / "log.sqlite3", Listener()
    plugged = threading.Event()

    def opens() -> Bench:
        if not plugged.is_set():
            raise NoBoard("no board found; plug one in")
        return open_link(VirtualLink(board), log, WIRING)

    def meanwhile(driver: Driver) -> None:
        driver.send("step", 3)
        driver.send("run", "20")
        driver.send("halt")
        driver.send("note", "the cable is out", 0, 0)
        driver.send("step", 1)
        plugged.set()

    driven(opens, listener, meanwhile)
    assert not board.rising_edges_us
    with LogReader.open(log) as reader:
        assert [note.text for note in reader.notes()] == ["the cable is out"]
