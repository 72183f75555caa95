"""What the software engine does in a way of its own: phases are cut or stretched in the middle."""

from __future__ import annotations

import pytest

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board.settings import Settings
from handtick_wire import reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import StillMachine
from tests.board.test_clock_line import ONE_KHZ, TEN_HZ, running

pytestmark = pytest.mark.usefixtures("in_software")


def test_faster_rate_in_mid_high_cuts_the_phase_to_the_new_length_and_no_shorter() -> None:
    """A tenth of a second into nothing: asked for 1 kHz 20 ms into a 50 ms high, the line falls at once, then runs."""
    board = running(TEN_HZ)
    board.at(20_000, lambda: board.board.conductor.change_rate(ONE_KHZ))
    board.run_until(21_200)
    assert board.line.edges == [(0, True), (20_000, False), (20_500, True), (21_000, False)]


def test_slower_rate_in_mid_high_stretches_the_phase_to_the_new_length() -> None:
    """Asked for 10 Hz 200 us into a 500 us high, the line stays high for 50 ms."""
    board = running(ONE_KHZ)
    board.at(200, lambda: board.board.conductor.change_rate(TEN_HZ))
    board.run_until(100_500)
    assert board.line.edges == [(0, True), (50_000, False), (100_000, True)]


def test_faster_rate_before_the_new_phase_is_over_keeps_a_whole_new_phase() -> None:
    """Asked for 1 kHz 200 us into a 50 ms high, the high lasts the 500 us that 1 kHz asks."""
    board = running(TEN_HZ)
    board.at(200, lambda: board.board.conductor.change_rate(ONE_KHZ))
    board.run_until(1200)
    assert board.line.edges == [(0, True), (500, False), (1000, True)]


def test_late_loop_makes_phases_longer_and_never_shorter() -> None:
    """A loop that comes late stretches the phase it was late for and does not make up for it in the next."""
    late = iter([0, 700, 0, 300, 900, 0, 0, 50] + [0] * 1000)
    board = VirtualBoard(StillMachine(), lateness=lambda: next(late))
    board.board.conductor.burst(6, ONE_KHZ)
    board.run_until(50_000)
    widths = [end - start for (start, _), (end, _) in zip(board.line.edges, board.line.edges[1:], strict=False)]
    assert min(widths) >= 500
    assert max(widths) > 500
    assert board.board.clock.edges == 6


def test_coarse_clock_makes_phases_longer_by_its_grain() -> None:
    """With a clock that only shows every 31st microsecond, each phase is asked for 31 us longer, to be no shorter."""
    settings = Settings()
    settings.clock_grain_us = 31
    board = VirtualBoard(StillMachine(), settings)
    board.board.conductor.burst(2, ONE_KHZ)
    board.run_until(10_000)
    assert [at_us for at_us, _ in board.line.edges] == [0, 531, 1062, 1593]


def test_rate_above_a_thousand_ticks_a_second_is_refused() -> None:
    """Faster than the loop comes by: refused with the reason, and the clock stays at rest."""
    board = VirtualBoard(StillMachine())
    hearing = Hearing(VirtualLink(board))
    assert hearing.ask("run", "1000.001").why == reasons.TOO_FAST
    board.run_until(board.now_us + 1_000_000)
    assert board.board.clock.edges == 0
