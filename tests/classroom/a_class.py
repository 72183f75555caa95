"""A class for tests: the real server on a loopback port, driving Larch on the virtual board, with its log."""

from __future__ import annotations

import contextlib
import json
import threading
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any, Protocol, Self

import pytest
import uvicorn
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import connect

from handtick.bench import Bench
from handtick.classroom.addresses import bound
from handtick.classroom.broker import Broker, trust
from handtick.classroom.broker_address import BrokerAddress
from handtick.classroom.feed import Feed
from handtick.classroom.lesson import Lesson, load_lesson
from handtick.classroom.replay import Replay
from handtick.classroom.room import Room
from handtick.classroom.server import Server
from handtick.classroom.serving import configured
from handtick.classroom.words import room_word, secret
from handtick.errors import LinkLost, NoBoard
from handtick.links.virtual import VirtualLink
from handtick.live.driver import Driver
from handtick.opening import open_link
from handtick.virtual.larch_board import PROGRAMS, larch_board
from handtick.wiring import load_wiring

ROOT = Path(__file__).parents[2]
LARCH, LESSON_FILE = ROOT / "examples" / "larch.toml", ROOT / "examples" / "lesson.toml"
WIRING = load_wiring(LARCH)
LESSON = load_lesson(LESSON_FILE, WIRING)
PATIENCE_S = 15.0


class Cable(VirtualLink):
    """A link whose cable can be pulled."""

    plugged = True

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``."""
        if not Cable.plugged:
            raise LinkLost("virtual: the board is gone; is it still plugged in?")
        return super().read(timeout_s)


class AClass:
    """One class, from ``with`` to its end.

    Args:
        folder: for the log.
        lesson: the lesson, if there is one.
        program: Larch's program.
        replay: a log in place of the board.
        gone_s: when the crank comes back from somebody who is gone.
        broker: the broker at which the class is, if there is one.
        ca: the certificates that are trusted of it.
    """

    def __init__(
        self,
        folder: Path,
        lesson: Lesson | None = None,
        program: str = "long-tally",
        replay: Path | None = None,
        gone_s: float = 10.0,
        broker: BrokerAddress | None = None,
        ca: str | None = None,
    ) -> None:
        Cable.plugged = True
        self.log = folder / "log.sqlite3"
        self.board = larch_board(PROGRAMS[program])
        self.word, self.secret = room_word(), secret()
        self.feed = Feed()
        self.clock: Driver | Replay
        if replay is None:
            self.clock = Driver(self.feed, self._connect)
        else:
            self.clock = Replay(replay, self.feed)
        self.room = Room(WIRING, self.clock, lesson, replay is None, gone_s)
        self._listener = bound(False, 0)
        self.port = int(self._listener.getsockname()[1])
        self.address = f"http://127.0.0.1:{self.port}/"
        self.told: list[str] = []
        elsewhere = None
        if broker is not None:
            elsewhere = Broker(broker, trust(broker, ca), self.room, self.word, "Larch", self.told.append)
        self.server = Server(self.room, self.feed, self.word, self.secret, ["localhost"], elsewhere=elsewhere)
        self._uvicorn = uvicorn.Server(configured(self.server.app))
        self._thread = threading.Thread(target=self._uvicorn.run, kwargs={"sockets": [self._listener]})

    def __enter__(self) -> Self:
        self.clock.start()
        self._thread.start()
        wait_until(lambda: self._uvicorn.started and not self.room.news.state.lost)
        return self

    def __exit__(self, *_: object) -> None:
        self.end()

    def end(self) -> None:
        """The program ends; a second end is none."""
        self._uvicorn.should_exit = True
        self._thread.join(60)
        assert not self._thread.is_alive(), "the server does not end"
        self.clock.stop()
        self._listener.close()

    def _connect(self) -> Bench:
        if not Cable.plugged:
            raise NoBoard("no board found; plug one in")
        return open_link(Cable(self.board, paced=True), self.log, WIRING)

    def pull(self) -> None:
        """The board's cable is pulled."""
        Cable.plugged = False

    def put_back(self) -> None:
        """And put back."""
        Cable.plugged = True

    @property
    def edges(self) -> int:
        """Rising edges that the clock line has made."""
        return len(self.board.rising_edges_us)

    def pupil(self, name: str) -> Page:
        """Somebody who has joined with the room word."""
        return Page(self, {"do": "join", "name": name, "word": self.word})

    def teacher(self) -> Page:
        """The teacher."""
        return Page(self, {"do": "teach", "word": self.secret})


class Served(Protocol):
    """What is served on a port of this machine."""

    port: int


class Page:
    """A page without a browser: what it was told, by key, and a way to ask."""

    def __init__(self, a_class: Served, first: dict[str, Any]) -> None:
        self._open = contextlib.ExitStack()
        where = f"127.0.0.1:{a_class.port}"
        self.socket = self._open.enter_context(
            connect(f"ws://{where}/live", origin=f"http://{where}", compression=None)
        )
        self.told: dict[str, Any] = {}
        self.all: list[dict[str, Any]] = []
        self.ticks: list[int] = []
        self.ask(**first)

    def ask(self, **what: Any) -> None:
        """Sends a message."""
        self.socket.send(json.dumps(what))

    def hear(self, enough: Callable[[], bool], seconds: float = PATIENCE_S) -> None:
        """Listens until there is enough; fails where there never is."""
        until = time.monotonic() + seconds
        while not enough():
            left = until - time.monotonic()
            assert left > 0, f"never heard; last: {self.told}"
            try:
                said = json.loads(self.socket.recv(timeout=left))
            except TimeoutError:
                continue
            self.all.append(said)
            self.told.update(said)
            if "clock" in said:
                if said["clock"].get("whole"):
                    self.ticks.clear()
                self.ticks += [tick["tick"] for tick in said["clock"]["new"]]

    def answer(self, key: str, **what: Any) -> Any:
        """Asks, and returns what is answered under a key."""
        self.told.pop(key, None)
        self.ask(**what)
        self.hear(lambda: key in self.told)
        return self.told[key]

    def refused(self, **what: Any) -> str:
        """Asks for what is refused, and returns the sentence."""
        return str(self.answer("refused", **what))

    def tick(self) -> int:
        """The tick number last told."""
        return int(self.told["clock"]["tick"]) if "clock" in self.told else -1

    def ended(self) -> tuple[int, str]:
        """The code and the sentence with which the server closes the connection."""
        with pytest.raises(ConnectionClosed) as closed:
            self._listen_for_ever()
        assert closed.value.rcvd is not None, "the connection broke off"
        return closed.value.rcvd.code, closed.value.rcvd.reason

    def _listen_for_ever(self) -> None:
        while True:
            self.socket.recv(timeout=PATIENCE_S)

    def close(self) -> None:
        """The page is closed."""
        self._open.close()


def wait_until(true: Callable[[], bool], seconds: float = PATIENCE_S) -> None:
    """Waits until something is true; fails where it never is."""
    until = time.monotonic() + seconds
    while not true():
        assert time.monotonic() < until, "it never came true"
        time.sleep(0.01)
