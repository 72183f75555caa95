"""Steps by the ready line: the clock runs on, the machine goes one cycle at a time."""

from __future__ import annotations

import itertools

import hypothesis
import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Cycle
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board.settings import Settings
from handtick_wire import messages, reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import StillMachine
from tests.board.waiting_machine import WRITES, Waiting

pytestmark = pytest.mark.usefixtures("in_bursts")


def held(machine: StillMachine, rate: str = "200000", probe: int = WRITES) -> tuple[VirtualBoard, Hearing]:
    """A board whose clock runs and whose machine is held from the start."""
    board = VirtualBoard(machine)
    hearing = Hearing(VirtualLink(board))
    hearing.ask("limits", "no", 5, 5)
    assert hearing.ask("ready_line", "high", probe, "high").kind == "done"
    assert hearing.ask("ready_hold").kind == "done"
    assert hearing.ask("run", rate).kind == "done"
    return board, hearing


def phases(board: VirtualBoard) -> set[int]:
    """Lengths of all phases so far, in nanoseconds."""
    times = [at_us for at_us, _ in board.line.edges]
    return {round((later - earlier) * 1000) for earlier, later in itertools.pairwise(times)}


def cycles(hearing: Hearing) -> list[Cycle]:
    """All cycles told of."""
    return [event for event in hearing.events if isinstance(event, Cycle)]


@hypothesis.settings(max_examples=10)
@given(count=st.integers(1, 8), rate=st.sampled_from(["200000", "123456"]))
def test_each_step_is_one_cycle_while_the_clock_runs_on(count: int, rate: str) -> None:
    """So many steps are so many cycles, each told with what the probes held before and after it; no phase is longer."""
    machine = Waiting()
    board, hearing = held(machine, rate, messages.NO_PROBE)
    assert machine.cycles == 0
    assert hearing.ask("ready_step", count).kind == "done"
    assert machine.cycles == count < machine.edges
    assert [(each.number, each.early, each.late, each.passed) for each in cycles(hearing)] == [
        (number, number - 1, number, 0) for number in range(1, count + 1)
    ]
    board.run_until(board.now_us + 1000)
    assert machine.cycles == count
    assert len(phases(board)) <= 2
    assert max(phases(board)) <= 5000


@hypothesis.settings(max_examples=25)
@given(first=st.integers(0, 6), writes=st.lists(st.booleans(), min_size=1, max_size=6))
def test_cycles_that_could_not_be_held_are_counted(first: int, writes: list[bool]) -> None:
    """A machine that goes on while it writes, whatever the ready line says: each such cycle is told as not held."""
    writing = [False] * (first + 1) + writes
    machine = Waiting(lambda cycle: cycle < len(writing) and writing[cycle])
    _, hearing = held(machine)
    hearing.ask("ready_step", 8)
    told = cycles(hearing)
    assert [each.number for each in told] == list(range(1, 9))
    assert machine.cycles == 8 + sum(each.passed for each in told)
    at = 0
    for each in told:
        assert each.early & 0x7FFF == at
        at += 1
        passed = 0
        while at < len(writing) and writing[at]:
            at, passed = at + 1, passed + 1
        assert each.passed == passed
        assert each.late & 0x7FFF == at


def test_machine_that_runs_is_held_and_let_go() -> None:
    """Held in the middle of a run, stepped, and let go again, it misses no edge from then on."""
    machine = Waiting()
    board = VirtualBoard(machine)
    hearing = Hearing(VirtualLink(board))
    hearing.ask("ready_line", "low", messages.NO_PROBE, "high")
    hearing.ask("run", "200000")
    board.run_until(board.now_us + 20_000)
    assert machine.cycles == machine.edges > 2000
    hearing.ask("ready_step", 2)
    stood = machine.cycles
    board.run_until(board.now_us + 20_000)
    assert machine.cycles == stood < machine.edges
    assert hearing.ask("ready_go").kind == "done"
    missed = machine.edges - machine.cycles
    board.run_until(board.now_us + 20_000)
    assert machine.edges - machine.cycles == missed


def test_ready_line_changes_after_the_edge_that_clocks_nothing() -> None:
    """Whichever edge clocks the machine, the line has half a cycle to settle before it."""
    for falling in (False, True):
        settings = Settings()
        settings.active_falling = falling
        board = VirtualBoard(Waiting(), settings)
        hearing = Hearing(VirtualLink(board))
        hearing.ask("ready_line", "high", messages.NO_PROBE, "high")
        hearing.ask("ready_hold")
        hearing.ask("run", "200000")
        hearing.ask("ready_step", 3)
        assert board.ready is not None
        moves = [at_us for at_us, _ in board.ready.pin.edges[1:]]
        assert len(moves) == 6
        edges = dict(board.line.edges)
        assert all(edges[at_us] == falling for at_us in moves)


def test_clock_that_stops_holds_nobody() -> None:
    """Halted in the middle of steps, they fail with the reason, and the machine is ready again."""
    board, hearing = held(Waiting())
    hearing.ask("limits", "yes", 0, 0)
    step = hearing.send("ready_step", 1_000_000)
    halt = hearing.send("halt")
    hearing.listen(0.1)
    assert [(each.kind, each.why) for each in hearing.answers(step)] == [("failed", reasons.NOT_RUNNING)]
    assert hearing.answers(halt)[0].kind == "done"
    assert board.ready is not None
    assert board.ready.pin.value


def test_machine_stays_held_between_two_programs() -> None:
    """A program that says goodbye leaves the clock running and the machine held; the next one steps on."""
    machine = Waiting()
    board, hearing = held(machine)
    hearing.ask("ready_step", 3)
    hearing.ask("bye")
    board.port.host_close()
    board.run_until(board.now_us + 50_000)
    assert machine.cycles == 3
    again = Hearing(VirtualLink(board), nonce=2)
    assert again.ask("ready_line", "high", WRITES, "high").kind == "done"
    assert again.ask("ready_step", 2).kind == "done"
    assert machine.cycles == 5
    assert [each.number for each in cycles(again)] == [4, 5]


@pytest.mark.parametrize(
    ("words", "why"),
    [
        (("ready_step", 0), reasons.BAD_FIELDS),
        (("ready_step", 1), reasons.NOT_RUNNING),
        (("ready_line", "high", 17, "high"), reasons.BAD_FIELDS),
        (("ready_line", "up", 16, "high"), reasons.BAD_FIELDS),
    ],
)
def test_steps_that_have_no_meaning_are_refused(words: tuple[str | int, ...], why: str) -> None:
    """With the reason, and nothing moves."""
    board = VirtualBoard(Waiting())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("ready_line", "high", messages.NO_PROBE, "high")
    assert hearing.ask(*words).why == why  # type: ignore[arg-type]
    assert board.board.clock.edges == 0


def test_clock_that_is_too_fast_for_the_ready_line_is_told() -> None:
    """With phases under 200 ns the line could not keep up: no step, and the machine runs on."""
    machine = Waiting()
    board = VirtualBoard(machine)
    hearing = Hearing(VirtualLink(board))
    hearing.ask("ready_line", "high", messages.NO_PROBE, "high")
    hearing.ask("run", "2600000")
    assert hearing.ask("ready_step", 1).why == reasons.TOO_FAST_FOR_READY
    board.run_until(board.now_us + 1000)
    assert machine.cycles == machine.edges


@pytest.mark.fault(
    "machine",
    "the host stalls while a machine is stepped by its ready line",
    "the next cycle waits; none is lost",
)
def test_steps_wait_for_a_host_that_does_not_read() -> None:
    """With a host that reads nothing for a second, the machine is held meanwhile, and every cycle is told later."""
    machine = Waiting()
    board, hearing = held(machine, probe=messages.NO_PROBE)
    hearing.send("ready_step", 300)
    board.port._room = 0
    board.run_until(board.now_us + 1_000_000)
    assert 10 < machine.cycles < 300
    board.port._room = 4096
    hearing.listen(0.1)
    assert [each.number for each in cycles(hearing)] == list(range(1, 301))
    assert machine.cycles == 300
    assert len(phases(board)) <= 2


def test_press_of_the_tick_button_is_a_cycle_of_a_machine_that_is_held() -> None:
    """One press, one cycle, also with the cable pulled; once it is let go, a press is refused as ever."""
    machine = Waiting()
    board, hearing = held(machine)
    hearing.ask("ready_step", 1)
    board.press([(0, 1), (5000, 0)], board.now_us)
    board.run_until(board.now_us + 50_000)
    hearing.listen()
    assert [each.number for each in cycles(hearing)] == [1, 2]
    board.port.host_close()
    for presses in range(1, 70):
        board.press([(0, 1), (5000, 0)], board.now_us)
        board.run_until(board.now_us + 50_000)
        assert machine.cycles == 2 + presses
    again = Hearing(VirtualLink(board), nonce=2)
    assert again.ask("ready_go").kind == "done"
    again.listen()
    again.events.clear()
    board.press([(0, 1), (5000, 0)], board.now_us)
    board.run_until(board.now_us + 50_000)
    again.listen()
    assert [notice.what for notice in again.notices] == [reasons.PRESS_REFUSED]


def test_machine_that_is_held_before_its_clock_runs_can_be_let_go() -> None:
    """At rest it is ready at once; what comes next is a tick of the machine."""
    machine = Waiting()
    board = VirtualBoard(machine)
    hearing = Hearing(VirtualLink(board))
    hearing.ask("ready_line", "high", messages.NO_PROBE, "high")
    hearing.ask("ready_hold")
    assert board.ready is not None
    assert not board.ready.pin.value
    assert hearing.ask("ready_go").kind == "done"
    assert board.ready.pin.value
    hearing.ask("step", 1)
    assert machine.cycles == 1


def test_ready_line_wired_anew_holds_nobody() -> None:
    """Told of another level, the board begins with the machine ready."""
    board = VirtualBoard(Waiting())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("ready_line", "high", messages.NO_PROBE, "high")
    hearing.ask("ready_hold")
    assert hearing.ask("ready_line", "low", messages.NO_PROBE, "high").kind == "done"
    assert not board.board.ready.holds


def test_ready_line_that_is_taken_is_told(monkeypatch: pytest.MonkeyPatch) -> None:
    """What it takes is in use by something else: refused with the reason, and the board goes on."""

    def taken(*wiring: object) -> None:
        raise ValueError("GP27 in use")

    board = VirtualBoard(Waiting())
    hearing = Hearing(VirtualLink(board))
    monkeypatch.setattr(board.board.ready, "_make_line", taken)
    assert hearing.ask("ready_line", "high", messages.NO_PROBE, "high").why == reasons.READY_IN_USE
    assert hearing.ask("ready_hold").why == reasons.READY_NOT_TOLD
    assert hearing.ask("step", 1).kind == "done"


def test_board_without_a_ready_line_says_so() -> None:
    """Also the software engine: its loop is too slow to let a machine go for one cycle."""
    hearing = Hearing(VirtualLink(VirtualBoard(StillMachine())))
    assert hearing.ask("ready_line", "high", messages.NO_PROBE, "high").why == reasons.NO_READY
    hearing.ask("run", "1000")
    assert hearing.ask("ready_step", 1).why == reasons.NO_READY


def test_software_engine_refuses(monkeypatch: pytest.MonkeyPatch) -> None:
    """A machine with a ready line on a board that times its clock in a loop."""
    monkeypatch.setattr(VirtualBoard, "bursts", False)
    hearing = Hearing(VirtualLink(VirtualBoard(Waiting())))
    assert hearing.ask("ready_line", "high", messages.NO_PROBE, "high").why == reasons.NO_READY
