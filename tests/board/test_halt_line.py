"""The machine's halt line: judged at the end of a tick, never in the middle of one."""

from __future__ import annotations

import pytest

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_wire import reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import StillMachine

pytestmark = pytest.mark.usefixtures("on_pins")

ONE_KHZ = 1_000_000


def running_with_halt(train: list[tuple[int, int | None]]) -> tuple[VirtualBoard, Hearing]:
    """A board running at 1 kHz, edges at 0, 1000, 2000 us, while the halt line follows the train."""
    board = VirtualBoard(StillMachine())
    hearing = Hearing(VirtualLink(board))
    start_us = board.now_us
    board.force_halt(train, start_us)
    board.board.conductor.run(ONE_KHZ)
    board.run_until(start_us + 5900)
    hearing.listen()
    return board, hearing


@pytest.mark.fault(
    "machine",
    "a halt line that is asserted between two ticks only",
    "a notice with its length",
)
def test_pulse_between_two_edges_is_counted_and_not_obeyed() -> None:
    """Asserted from 1300 to 1450 us, the halt line stops nothing; the short pulse is told with its length."""
    board, hearing = running_with_halt([(1300, 1), (1450, 0)])
    assert board.board.conductor.mode == "moving"
    assert len(board.rising_edges_us) == 6
    assert [(notice.what, notice.count, notice.us) for notice in hearing.notices] == [
        (reasons.SHORT_HALT_PULSE, 1, 150)
    ]


def test_line_asserted_over_the_boundary_stops_before_the_edge() -> None:
    """Asserted from 1900 to 2100 us, the halt line stops the clock before the edge at 2000."""
    board, hearing = running_with_halt([(1900, 1), (2100, 0)])
    assert board.rising_edges_us[-1] - board.rising_edges_us[0] == 1000
    assert board.board.clock.edges == 2
    assert hearing.states[-1].why == reasons.HALT_LINE
    assert hearing.notices == []


def test_line_asserted_early_in_a_tick_stops_at_its_end() -> None:
    """Asserted from 1100 us on, the halt line lets the tick in hand end and stops before the next."""
    board, hearing = running_with_halt([(1100, 1)])
    assert board.board.clock.edges == 2
    assert board.line.value is False
    assert hearing.states[-1].why == reasons.HALT_LINE


@pytest.mark.fault(
    "machine",
    "a halt line asserted from power-up on",
    "reset ticks; then, halted by line before first instruction",
)
def test_line_asserted_at_power_up_does_not_keep_reset_from_ticking() -> None:
    """With the halt line asserted from power-up on, the ticks under reset come, then the halt is told."""
    board = VirtualBoard(StillMachine())
    board.halt_pin.forced = True
    hearing = Hearing(VirtualLink(board))
    board.board.conductor.reset()
    board.run_until(board.now_us + 50_000)
    hearing.listen()
    assert board.board.clock.edges == 2
    assert board.reset_line.value is False
    assert [notice.what for notice in hearing.notices] == [reasons.HALT_BEFORE_FIRST]


def test_run_is_refused_while_the_line_is_asserted_but_a_step_goes_past_it() -> None:
    """At a halted machine a run is refused with the reason; a step and a press each make one tick."""
    board = VirtualBoard(StillMachine())
    board.halt_pin.forced = True
    hearing = Hearing(VirtualLink(board))
    assert hearing.ask("run", "10").why == reasons.HALT_LINE
    assert hearing.ask("burst", 5, "10").why == reasons.HALT_LINE
    assert hearing.ask("to", 5, "10").why == reasons.HALT_LINE
    assert board.board.clock.edges == 0
    assert hearing.ask("step", 1).kind == "done"
    board.press([(0, 1), (50_000, 0)], board.now_us)
    board.run_until(board.now_us + 100_000)
    assert board.board.clock.edges == 2


def test_several_steps_at_an_asserted_line_stop_after_the_first() -> None:
    """Three steps asked for at a halted machine are one tick, and the answer says why."""
    board = VirtualBoard(StillMachine())
    board.halt_pin.forced = True
    hearing = Hearing(VirtualLink(board))
    answer = hearing.ask("step", 3)
    assert (answer.kind, answer.why, answer.tick) == ("failed", reasons.HALT_LINE, 1)
    assert board.board.clock.edges == 1
