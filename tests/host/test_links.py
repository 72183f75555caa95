"""Every link behaves the same: a board in memory, on a pseudo-terminal, and behind a TCP port."""

from __future__ import annotations

import contextlib
import io
import threading
import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from handtick.bench import Bench
from handtick.discovery import link_to
from handtick.errors import LinkLost, NoBoard
from handtick.export import write_csv, write_json_lines
from handtick.links import Link
from handtick.links.serial_port import SerialLink
from handtick.links.virtual import VirtualLink
from handtick.log import LogReader
from handtick.opening import open_link
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.wiring import Wiring, load_wiring
from handtick_wire import framing, messages
from tests.host.served import served

ROOT = Path(__file__).parents[2]
KINDS = ("memory", "pseudo-terminal", "TCP")


@contextlib.contextmanager
def link_of(kind: str) -> Iterator[Link]:
    """A link of a kind, to a board just started."""
    if kind == "memory":
        yield VirtualLink(VirtualBoard(Larch(RAIN_TALLY)))
        return
    with served() as serving:
        name = serving.port if kind == "pseudo-terminal" else serving.address
        assert name is not None
        yield SerialLink(name)


def tally(link: Link, path: Path) -> str:
    """Runs the rain tally to its end over a link and gives the exported CSV without times."""
    with open_link(link, path, Wiring()) as bench:
        stopped: list[str] = []
        bench.also(lambda event: stopped.append(event.why) if getattr(event, "mode", "") == "rest" else None)
        bench.reset()
        stopped.clear()
        bench.run("1000")
        bench.listen_until(lambda: bool(stopped), 5.0)
        assert stopped == ["halt-line"]
    file = io.StringIO()
    with LogReader.open(path) as log:
        write_csv(log.all_ticks(), load_wiring(ROOT / "examples" / "larch.toml"), file, times=False)
    return file.getvalue()


def test_rain_tally_is_the_same_over_every_link(tmp_path: Path) -> None:
    """Memory, pseudo-terminal and TCP give the same exported ticks, times aside."""
    exports = []
    for kind in KINDS:
        with link_of(kind) as link:
            exports.append(tally(link, tmp_path / f"{kind}.sqlite3"))
    assert exports[0].count("\n") == 1 + 2 + 138
    assert exports[1] == exports[0]
    assert exports[2] == exports[0]


@pytest.mark.parametrize("kind", KINDS)
def test_command_after_command_goes_on_one_count(kind: str, tmp_path: Path) -> None:
    """Three programs that step once each make ticks 1, 2 and 3."""
    board = VirtualBoard(Larch(RAIN_TALLY))
    with contextlib.ExitStack() as stack:
        serving = stack.enter_context(served(board)) if kind != "memory" else None
        for number in (1, 2, 3):
            if serving is None:
                link: Link = VirtualLink(board)
            else:
                name = serving.port if kind == "pseudo-terminal" else serving.address
                assert name is not None
                link = _patiently(name)
            with open_link(link, tmp_path / "log.sqlite3", Wiring()) as bench:
                (tick,) = bench.step(1)
            assert tick.tick == number


def _patiently(name: str) -> SerialLink:
    """Opens a port that was closed a moment ago."""
    until = time.monotonic() + 10
    while time.monotonic() < until:
        with contextlib.suppress(NoBoard):
            link = SerialLink(name)
            link.write(b"\n")
            return link
        time.sleep(0.01)
    raise AssertionError(f"{name} can't be opened again")


@pytest.mark.fault(
    "link",
    "a second caller of a served TCP port",
    "turned away; the first goes on",
)
def test_second_caller_of_the_tcp_port_is_turned_away() -> None:
    """Behind a TCP port too there is one program at a time, and it goes on undisturbed."""
    with served() as serving:
        assert serving.address is not None
        with Bench(SerialLink(serving.address)) as bench:
            second = Bench(SerialLink(serving.address))
            with pytest.raises((LinkLost, NoBoard)):
                second.open(0.5)
            second.close()
            assert [tick.tick for tick in bench.step(2)] == [1, 2]


def test_caller_who_is_gone_before_being_answered_ends_nothing(monkeypatch: pytest.MonkeyPatch) -> None:
    """The port looked as if somebody called, nobody does any more, and the next caller is answered."""
    with served() as serving:
        assert serving.address is not None
        asked = threading.Semaphore(0)

        def look(ways: list[object], *_: object) -> tuple[list[object], list[object], list[object]]:
            asked.release()
            return ways, [], []

        with monkeypatch.context() as patched:
            patched.setattr("handtick.virtual.server.select.select", look)
            assert asked.acquire(timeout=10)
            assert asked.acquire(timeout=10), "the served board ended"
        with Bench(SerialLink(serving.address)) as bench:
            assert [tick.tick for tick in bench.step(2)] == [1, 2]


@pytest.mark.fault(
    "link",
    "the board goes away",
    "a sentence, status 5, the log closed",
)
def test_board_that_goes_away_is_told_in_words() -> None:
    """A link whose other end is gone says so."""
    with served() as serving:
        assert serving.address is not None
        bench = Bench(SerialLink(serving.address))
        bench.open()
    with pytest.raises(LinkLost, match="the board is gone"):
        bench.step(1)
    bench.close()


@pytest.mark.fault(
    "link",
    "a port that is not there, no port, or not yours to open",
    "why, and what to do; status 3",
)
@pytest.mark.parametrize(
    ("name", "says"),
    [
        ("/dev/handtick-none", "there is no such port"),
        ("socket://127.0.0.1:1", "nobody listens there"),
        ("frob://x", "there is no such port"),
    ],
)
def test_ports_that_cannot_be_opened_are_told_why(name: str, says: str) -> None:
    """One line: the port, what happened, what to do."""
    with pytest.raises(NoBoard) as caught:
        link_to(name)
    assert name in str(caught.value)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


@pytest.mark.fault(
    "link",
    "somebody looks for boards while records wait",
    "the records still come to whoever logs them",
)
def test_who_asks_takes_nothing_that_waits(tmp_path: Path) -> None:
    """Looking for boards hands out none of the ticks made by hand: they wait for the program that logs them."""
    board = VirtualBoard(Larch(RAIN_TALLY))
    board.press(((0, 1), (30_000, 0)), 1000)
    board.run_until(200_000)
    from handtick.discovery import _who

    link = VirtualLink(board)
    greeting = _who(link)
    link.close()
    assert greeting is not None
    assert greeting.tick == 1
    with open_link(VirtualLink(board), tmp_path / "log.sqlite3", Wiring()):
        pass
    with LogReader.open(tmp_path / "log.sqlite3") as log:
        assert [tick.tick for tick in log.all_ticks()] == [1]
        assert log.gaps() == []


@pytest.mark.fault(
    "link",
    "somebody looks for boards while the clock runs",
    "the clock runs on",
)
def test_who_asks_does_not_stop_a_clock() -> None:
    """A clock that runs by hand runs on while somebody looks for boards."""
    board = VirtualBoard(Larch(RAIN_TALLY))
    board.board.conductor.run(100_000)
    board.run_until(100_000)
    from handtick.discovery import _who

    link = VirtualLink(board)
    assert _who(link) is not None
    link.close()
    edges = board.board.clock.edges
    board.run_until(board.now_us + 200_000)
    assert board.board.clock.edges >= edges + 19


def test_exports_hold_every_tick_with_its_names(tmp_path: Path) -> None:
    """JSON Lines has an object a tick with the names of the wiring file, CSV a row; both in the order of the log."""
    import csv
    import json

    path = tmp_path / "log.sqlite3"
    tally(VirtualLink(VirtualBoard(Larch(RAIN_TALLY))), path)
    wiring = load_wiring(ROOT / "examples" / "larch.toml")
    lines, rows = io.StringIO(), io.StringIO()
    with LogReader.open(path) as log:
        ticks = list(log.all_ticks())
        assert write_json_lines(iter(ticks), wiring, lines) == len(ticks) == 140
        assert write_csv(iter(ticks), wiring, rows) == 140
    objects = [json.loads(line) for line in lines.getvalue().splitlines()]
    table = list(csv.DictReader(io.StringIO(rows.getvalue())))
    for tick, each, row in zip(ticks, objects, table, strict=True):
        assert (each["reset"], each["tick"], each["early"], each["late"]) == (
            tick.reset,
            tick.tick,
            tick.early,
            tick.late,
        )
        assert tick.early is not None
        assert each["buses"]["data"]["early"] == tick.early & 0xFF == int(row["data early"])
        assert each["buses"]["fetch"]["early"] == tick.early >> 15 == int(row["fetch early"])
        assert int(row["time_us"]) == tick.time_us


class _OtherVersion:
    """A link to a board that speaks another version of the wire."""

    name = "other"

    def __init__(self, protocol: int) -> None:
        self._said = b""
        self._protocol = protocol

    def read(self, timeout_s: float) -> bytes:
        """What it says."""
        said, self._said = self._said, b""
        return said

    def write(self, data: bytes) -> None:
        """Answers any greeting."""
        command_id = int(data.partition(b"@")[2].split()[0])
        kinds = {"number": 0, "rate": "1", "word": "rest", "hexadecimal": 0}
        fields = {name: kinds[form] for name, form in messages.REPORTS["hello"]} | {"protocol": self._protocol}
        done = messages.say("done", id=command_id, tick=0, edges=0)
        self._said = framing.frame_report(0, messages.say("hello", **fields)) + framing.frame_report(1, done)

    def close(self) -> None:
        """It is gone."""


@pytest.mark.fault(
    "link",
    "a board whose firmware speaks another version of the wire",
    "both versions, and to put this program's firmware on the board; no tick",
)
def test_other_version_is_told_with_what_to_do() -> None:
    """A board of another version is not driven: the message says which version it speaks and how to update it."""
    with pytest.raises(NoBoard, match=r"wire version 99.*put this program's firmware on the board"):
        Bench(_OtherVersion(99)).open()
