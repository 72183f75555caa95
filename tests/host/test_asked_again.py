"""A command is asked again where it or its answer was torn, and nothing is done twice; waiting has an end."""

from __future__ import annotations

import re
import signal
from collections.abc import Callable

import pytest

from handtick.bench import Bench
from handtick.errors import LinkLost, NoBoard, StoppedEarly
from handtick.events import Damage, Event, Greeting, Notice, Tick
from handtick.links.virtual import VirtualLink
from handtick.rules import board_form, read_rule
from handtick.stopping import run_until
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.larch_board import larch_board
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.waiting import AGAIN, SILENT, UNANSWERED, WAIT, WHO, Waiting
from handtick.wiring import Wiring
from handtick_wire import reasons

TICK = Tick(1, 0, 1, 0, 0, 0, 0)


class Tearing(VirtualLink):
    """A link that tears lines: the next so many that hold a word, of the board's or of the host's."""

    def __init__(self, board: VirtualBoard) -> None:
        super().__init__(board)
        self.said: list[bytes] = []
        self.written: list[bytes] = []
        self._torn: dict[bytes, int] = {}
        self._torn_written: dict[bytes, int] = {}
        self._swallows = False

    def tear(self, word: str, times: int = 1) -> None:
        """Tears what the board says."""
        self._torn[b" %s " % word.encode()] = times

    def tear_written(self, word: str, times: int = 1, swallow: bool = False) -> None:
        """Tears what is sent, or has it vanish whole."""
        self._torn_written[b" %s" % word.encode()] = times
        self._swallows = swallow

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``."""
        data = super().read(timeout_s)
        for word in self._torn:
            while self._torn[word] and word in data:
                self._torn[word] -= 1
                data = data.replace(word, word[:-2] + b"! ", 1)
        return data

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""
        self.written.append(data)
        for word in self._torn_written:
            if self._torn_written[word] and word in data:
                self._torn_written[word] -= 1
                data = b"" if self._swallows else data.replace(word, b"", 1)
        super().write(data)


@pytest.fixture
def board() -> VirtualBoard:
    """A board with Larch."""
    return larch_board()


@pytest.fixture
def link(board: VirtualBoard) -> Tearing:
    """A link that tears when asked to."""
    return Tearing(board)


@pytest.fixture
def bench(link: Tearing) -> Bench:
    """A bench over that link, open."""
    bench = Bench(link)
    bench.open()
    bench.ask("ignore_halt", 10**6)
    return bench


# What each of them makes of a torn line, whatever the clock is at.
ASKED: list[tuple[str, Callable[[Bench], object], int]] = [
    ("step", lambda bench: bench.step(3), 3),
    ("burst", lambda bench: bench.burst(3, "100"), 3),
    ("to", lambda bench: bench.advance(3, "100"), 3),
    ("half", lambda bench: bench.half(), 1),
    ("samples", lambda bench: bench.ask("samples", "all"), 0),
    ("status", lambda bench: bench.status(), 0),
    ("halt", lambda bench: bench.halt(), 0),
    ("stop_when", lambda bench: bench.ask("stop_when", "none"), 0),
    ("bye", lambda bench: bench.close(), 0),
]


@pytest.mark.fault(
    "link",
    "the answer to a command is torn",
    "nothing; the command is done once",
)
@pytest.mark.parametrize(("kind", "deed", "edges"), ASKED, ids=[kind for kind, _, _ in ASKED])
@pytest.mark.parametrize("times", [1, 2])
def test_a_torn_answer_is_asked_for_again_and_nothing_is_done_twice(
    board: VirtualBoard,
    link: Tearing,
    bench: Bench,
    kind: str,
    deed: Callable[[Bench], object],
    edges: int,
    times: int,
) -> None:
    """Whatever was asked, it is done once and answered, though the answer arrived torn."""
    link.tear("done", times)
    deed(bench)
    assert board.board.clock.edges == edges


@pytest.mark.fault(
    "link",
    "a command is torn, or does not arrive at all",
    "nothing; it is sent again and done once",
)
@pytest.mark.parametrize(("kind", "deed", "edges"), ASKED, ids=[kind for kind, _, _ in ASKED])
@pytest.mark.parametrize("swallow", [False, True])
def test_a_torn_command_is_sent_again_and_done_once(
    board: VirtualBoard,
    link: Tearing,
    bench: Bench,
    kind: str,
    deed: Callable[[Bench], object],
    edges: int,
    swallow: bool,
) -> None:
    """Whatever was asked, it is done once, though the line was torn, or lost, on its way to the board."""
    link.tear_written(kind, 1, swallow)
    deed(bench)
    assert board.board.clock.edges == edges


def test_a_torn_answer_while_the_clock_runs_is_asked_for_again(
    board: VirtualBoard, link: Tearing, bench: Bench
) -> None:
    """The clock goes on, its ticks come, and the command is answered all the same."""
    bench.run("10")
    link.tear("done")
    bench.ask("rate", "20")
    assert bench.rate == "20"
    bench.halt()
    assert bench.tick == board.board.clock.tick


class EdgeByEdge(VirtualBoard):
    """A board that tells each tick in a line of its own."""

    bursts = False


@pytest.mark.parametrize(("kind", "values"), [("step", (20,)), ("burst", (20, "100")), ("to", (20, "100"))])
def test_a_command_under_way_that_is_said_again_is_the_same_command(kind: str, values: tuple[int | str, ...]) -> None:
    """Damage in the middle of a burst has the command said again, which ticks nothing more."""
    board = EdgeByEdge(Larch(RAIN_TALLY))
    link = Tearing(board)
    bench = Bench(link)
    bench.open()
    link.tear("tick", 2)
    ticks = [event.tick for event in bench.ask(kind, *values) if isinstance(event, Tick)]
    assert len(ticks) == 18
    assert sum(f" {kind} ".encode() in line for line in link.written) >= 3
    assert board.board.clock.edges == 20
    assert [tick.tick for tick in bench.step(1)] == [21]


def test_a_clock_slower_than_the_patience_is_waited_for(board: VirtualBoard, link: Tearing, bench: Bench) -> None:
    """Two ticks that take twenty seconds each are two ticks, however often the board is asked whether it is there."""
    assert [tick.tick for tick in bench.burst(2, "0.05")] == [1, 2]
    assert sum(b" who " in line for line in link.written) >= 5
    assert board.board.clock.edges == 2


def test_an_answer_that_never_arrives_is_given_up(link: Tearing, bench: Bench) -> None:
    """A link that tears every answer is told of in a sentence, though the board says that it is there."""
    link.tear("done", 10**6)
    with pytest.raises(LinkLost, match="the board is there, but its answer to step does not arrive"):
        bench.step(1)
    bench.close()


def test_a_board_that_is_silent_is_given_up(link: Tearing, bench: Bench) -> None:
    """Nothing for four seconds, though it was asked who is there: it is gone."""
    link.read = lambda timeout_s: b""  # type: ignore[method-assign]
    with pytest.raises(LinkLost, match="stopped answering; is it still plugged in"):
        bench.step(1)
    assert bench.lost
    bench.close()


class Restarting(Tearing):
    """A link whose board restarts as a command arrives."""

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""
        if b" step " in data and len(self.written) < 2:
            self._board = larch_board(boot=2)
            self._board.port.host_open()
        super().write(data)


@pytest.mark.parametrize("torn", ["", "hello"])
def test_a_command_is_not_made_by_a_board_that_has_restarted(torn: str) -> None:
    """Asked who it is, it says that it is another start, though that is torn at first; what was asked for is off."""
    link = Restarting(larch_board())
    bench = Bench(link)
    bench.open()
    link.tear(torn)
    with pytest.raises(LinkLost, match=r"has restarted \(boot 1, now boot 2\)|has forgotten this program"):
        bench.step(5)
    bench.close()
    assert link._board.board.clock.edges == 0


def test_a_torn_greeting_is_said_again(link: Tearing) -> None:
    """The board is found although the first greeting, or the answer to it, was torn."""
    link.tear_written("hello")
    Bench(link).open()
    for word in ("hello", "done"):
        link.tear(word)
        assert Bench(link).open().boot == 1


class Chatter:
    """A port at which something talks without end that is no board; each read takes a tenth of a second."""

    name = "chatter"

    def __init__(self) -> None:
        self.now_s = 0.0

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``."""
        self.now_s += 0.1
        assert self.now_s < 60, "it is listened to for ever"
        return b"$GIVER,7,TAKER,3\r\n"

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""

    def close(self) -> None:
        """See ``Link.close``."""


@pytest.mark.fault(
    "link",
    "a port at which something else talks without end",
    "no board, within seconds",
)
def test_a_port_that_chatters_is_no_board() -> None:
    """Something that talks and never greets is given up, and what it says takes no memory."""
    chatter = Chatter()
    bench = Bench(chatter, clock=lambda: chatter.now_s)
    with pytest.raises(NoBoard, match="chatter: nothing there answers as a handtick board"):
        bench.open()
    assert chatter.now_s < 10
    assert not bench._unlogged
    assert not bench.heard


def greeting(mode: str) -> Greeting:
    """A board's greeting."""
    return Greeting(1, 0, 0, 0, {"mode": mode, "waiting": 0})


@pytest.mark.parametrize("torn", [Damage(b"#00!"), Damage(b"", 1), Notice(reasons.DAMAGED_COMMAND, 1, 0)])
def test_damage_has_the_command_said_again_at_once_but_not_without_end(torn: Event) -> None:
    """Three times, then at the pace of time."""
    waiting = Waiting("step")
    assert [waiting.hear([torn], 0.0) for _ in range(5)] == [AGAIN] * 3 + [WAIT] * 2


def test_a_running_clock_is_no_answer() -> None:
    """A quick command is said again every two seconds while ticks come, and given up after a few times."""
    waiting = Waiting("rate")
    heard = [waiting.hear([TICK], 0.5) for _ in range(24)]
    assert heard == ([WAIT] * 3 + [AGAIN]) * 5 + [WAIT] * 3 + [UNANSWERED]


def test_a_long_burst_is_waited_for_as_long_as_it_takes() -> None:
    """A command that takes an hour is said again ever more rarely, and never given up while the clock moves."""
    waiting = Waiting("burst")
    heard = [waiting.hear([TICK], 0.5) for _ in range(7200)]
    assert set(heard) == {WAIT, AGAIN}
    assert heard.count(AGAIN) < 70


def test_a_silent_board_is_asked_who_is_there_and_then_given_up() -> None:
    """After two seconds without a byte and after four; a slow clock's board answers and is asked again."""
    waiting = Waiting("step")
    assert [waiting.hear(None, 0.5) for _ in range(8)] == [WAIT] * 3 + [WHO] + [WAIT] * 3 + [SILENT]
    waiting = Waiting("step")
    for _ in range(1000):
        assert [waiting.hear(None, 0.5) for _ in range(4)] == [WAIT] * 3 + [WHO]
        assert waiting.hear([greeting("moving")], 0.1) == WAIT


def test_bytes_that_tell_nothing_have_the_board_asked_sooner() -> None:
    """Behind a block that was cut short, answers are taken for the rest of it until that is whole."""
    waiting = Waiting("step")
    assert [waiting.hear([], 0.0), waiting.hear(None, 0.25)] == [WAIT, WHO]


def test_bench_asks_again_with_the_same_id(link: Tearing, bench: Bench) -> None:
    """By its id the board knows that it is the same command."""
    link.tear("done")
    bench.step(1)
    ids = [re.findall(rb"@(\d+) step ", line) for line in link.written]
    assert len({each for found in ids for each in found}) == 1


def test_a_rule_judged_here_stops_where_a_tick_did_not_arrive() -> None:
    """Where the samples of a tick were torn, nobody knows whether the rule held, and it is said in a sentence."""
    link = Tearing(EdgeByEdge(Larch(RAIN_TALLY)))
    rule = read_rule(" or ".join(f"probes == {value}" for value in range(1, 19)), Wiring())
    assert board_form(rule) is None
    with Bench(link) as bench:
        link.tear("tick")
        with pytest.raises(StoppedEarly, match="at tick 1: its samples did not arrive, so nobody knows whether"):
            run_until(bench, rule, 5)


def test_a_rule_is_taken_off_the_board_though_ctrl_c_comes_twice() -> None:
    """The next ticks anybody asks for are not stopped by a rule of which nobody knows any more."""
    link = Tearing(larch_board())

    def ctrl_c(_: Event) -> None:
        if link.written[-1].split()[1] in (b"step", b"halt"):
            signal.raise_signal(signal.SIGINT)

    with Bench(link) as bench:
        bench.also(ctrl_c)
        with pytest.raises(KeyboardInterrupt):
            run_until(bench, read_rule("probes == 65535", Wiring()), 50)
        assert link.written[-1].split()[1:3] == [b"stop_when", b"none"]
