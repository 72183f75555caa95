"""What the recorder makes of runs whose beginning or end nobody heard."""

from __future__ import annotations

from pathlib import Path

from handtick.bench import Bench
from handtick.events import Event, Gap, Greeting, ResetDone, State, Tick
from handtick.links.virtual import VirtualLink
from handtick.log import NOT_TOLD, LogReader, LogWriter
from handtick.log.check import check
from handtick.opening import open_link
from handtick.recorder import Recorder
from handtick.session import LINK
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.wiring import Wiring

NOW_NS = 1_764_000_000_000_000_000


def wrong(path: Path) -> list[str]:
    """What does not add up in a log."""
    return [finding.text for finding in check(path) if finding.kind == "wrong"]


def open_again(board: VirtualBoard, path: Path) -> Bench:
    """A bench on a board that goes on living, as one command after another opens it."""
    return open_link(VirtualLink(board), path, Wiring())


def test_half_ticks_of_two_commands_are_one_tick_of_one_run(tmp_path: Path) -> None:
    """Half a tick is kept when its command ends; the other half of the next command makes it whole."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    with open_again(board, path) as bench:
        bench.half()
    board.run_until(board.now_us + 5_000_000)
    assert board.line.value, "the phase is held for as long as nobody asks for the next edge"
    with open_again(board, path) as bench:
        bench.half()
    with LogReader.open(path) as log:
        assert [tick.tick for tick in log.all_ticks()] == [1]
    assert wrong(path) == []


def test_presses_made_while_nobody_listened_belong_to_runs(tmp_path: Path) -> None:
    """A hundred presses without a host, more than the board keeps reports of, are all in the log and in runs."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    for place in range(100):
        board.press(((0, 1), (30_000, 0)), 100_000 + place * 100_000)
    board.run_until(11_000_000)
    with open_again(board, path) as bench:
        bench.step(1)
    with LogReader.open(path) as log:
        assert [tick.tick for tick in log.all_ticks()] == list(range(1, 102))
    assert wrong(path) == []


def test_run_that_was_on_when_a_host_came_is_a_run(tmp_path: Path) -> None:
    """A clock that somebody's hand had started runs on under the host's eyes, and the log has it as a run."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    board.board.conductor.run(50_000)
    board.run_until(300_000)
    with open_again(board, path) as bench:
        bench.listen(0.2)
        bench.halt()
    with LogReader.open(path) as log:
        runs = log.runs()
        ticks = [tick.tick for tick in log.all_ticks()]
    assert ticks == list(range(1, len(ticks) + 1))
    assert [run.why for run in runs] == ["halted"]
    assert wrong(path) == []


def recorded(path: Path, *events: Event) -> list[tuple[int, int, int | None, str]]:
    """The runs of a log of these events as (reset, first tick, last tick, what was asked)."""
    with LogWriter.open(path, "shed", NOW_NS) as log:
        recorder = Recorder(log)
        for event in events:
            recorder.take(event, NOW_NS)
        recorder.stop("the board is gone", NOW_NS)
    assert wrong(path) == []
    with LogReader.open(path) as log:
        return [(run.reset, run.first_tick, run.last_tick, run.asked) for run in log.runs()]


def tick(number: int, reset: int = 0) -> Tick:
    """A tick of the third start of a board."""
    return Tick(3, reset, number, 0, 0, 1_000_000 * reset + 1000 * number, 0)


def state(number: int, mode: str, why: str, asked: str, reset: int = 0) -> State:
    """The clock's state at a tick of the third start of a board."""
    return State(3, reset, number, number, mode, why, asked, 1000 * number)


def test_run_whose_reset_was_not_heard_of_ends_before_it(tmp_path: Path) -> None:
    """Neither the end of a run nor the reset after it arrived: its ticks and those after the reset are two runs'."""
    events = [state(0, "moving", "asked", "run:2"), tick(1), tick(2), tick(1, reset=1), tick(2, reset=1)]
    assert recorded(tmp_path / "log", *events) == [(0, 1, 2, "run:2"), (1, 1, 2, NOT_TOLD)]


def test_run_claims_no_tick_that_nobody_heard_of(tmp_path: Path) -> None:
    """A run just begun when the cable is pulled has no tick, however many came before the reset in front of it."""
    events = [tick(7), ResetDone(3, 1, 7, 7), state(0, "moving", "asked", "burst:5", reset=1)]
    assert recorded(tmp_path / "log", *events) == [(0, 7, 7, NOT_TOLD), (1, 1, 0, "burst:5")]


def test_half_a_tick_belongs_to_the_run_that_makes_it_whole(tmp_path: Path) -> None:
    """Half a tick by hand and then a run: its first tick is the one that was held."""
    events = [
        state(4, "held", "asked", "half"),
        state(5, "moving", "asked", "run:2"),
        tick(5),
        tick(6),
        state(6, "rest", "halted", "run:2"),
    ]
    assert recorded(tmp_path / "log", *events) == [(0, 5, 4, "half"), (0, 5, 6, "run:2")]


def test_ticks_that_a_greeting_tells_missing_are_no_run_s_that_had_ended(tmp_path: Path) -> None:
    """A greeting goes ahead of what waits: the end of a run that comes after it is where the run ended, not where the
    greeting was."""
    events = [
        state(0, "moving", "asked", "step:2"),
        Gap(3, 0, 1, 9, LINK),
        state(2, "rest", "count", "step:2"),
        state(2, "moving", "asked", "step:7"),
        state(9, "rest", "count", "step:7"),
    ]
    assert recorded(tmp_path / "log", *events) == [(0, 1, 2, "step:2"), (0, 3, 9, "step:7")]


def test_half_asked_for_before_the_first_edge_is_the_first_tick(tmp_path: Path) -> None:
    """A greeting in the moment between the command and the edge tells of tick 0, in hand: the run is that of tick 1."""
    greeting = Greeting(3, 0, 0, 0, {"mode": "held", "waiting": 0})
    assert recorded(tmp_path / "log", greeting, tick(1)) == [(0, 1, 1, "half")]
