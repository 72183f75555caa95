"""The clock line: whole ticks, whatever is asked for in the middle of one."""

from __future__ import annotations

import itertools

import pytest

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board.settings import Settings
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter, StillMachine

pytestmark = pytest.mark.usefixtures("on_pins")

TEN_HZ, ONE_KHZ, HUNDRED_HZ = 10_000, 1_000_000, 100_000


def running(rate_mhz: int, settings: Settings | None = None) -> VirtualBoard:
    """A board whose clock has just made the rising edge of its first tick, at 0, running at a rate."""
    board = VirtualBoard(StillMachine(), settings)
    board.board.conductor.run(rate_mhz)
    board.run_until(0)
    assert board.line.edges == [(0, True)]
    return board


def test_press_after_a_run_is_a_tick_of_its_own_after_a_whole_low() -> None:
    """Halted in mid-high and pressed before the fall, the high ends whole and the press ticks after a whole low."""
    board = running(TEN_HZ)
    board.at(20_000, board.board.conductor.halt)
    board.press([(0, 1), (40_000, 0)], 30_000)
    board.run_until(300_000)
    assert board.line.edges == [(0, True), (50_000, False), (100_000, True), (101_000, False)]
    assert board.board.clock.edges == 2


def test_stop_in_mid_high_finishes_the_high_and_rests_low() -> None:
    """Stopped 2 ms into a 5 ms high, the line falls at 5 ms and rests, one tick counted."""
    board = running(HUNDRED_HZ)
    board.at(2000, board.board.conductor.halt)
    board.run_until(100_000)
    assert board.line.edges == [(0, True), (5000, False)]
    assert board.board.clock.edges == 1


def test_stop_just_before_an_edge_and_the_count_agree() -> None:
    """Stopped 10 us before the next edge, that edge does not come and is not counted."""
    board = running(HUNDRED_HZ)
    board.at(9990, board.board.conductor.halt)
    board.run_until(100_000)
    assert board.line.edges == [(0, True), (5000, False)]
    assert board.board.clock.edges == 1


def test_stop_twice_is_stop_once() -> None:
    """A second stop, in the same tick or at rest, changes nothing."""
    board = running(HUNDRED_HZ)
    for at_us in (2000, 2500, 60_000):
        board.at(at_us, board.board.conductor.halt)
    board.run_until(100_000)
    assert board.line.edges == [(0, True), (5000, False)]


@pytest.mark.parametrize("rest_high", [False, True])
@pytest.mark.parametrize("active_falling", [False, True])
def test_every_rest_level_and_edge_counts_what_the_machine_is_clocked_by(rest_high: bool, active_falling: bool) -> None:
    """Whichever way the line rests and the machine is clocked, ticks are active edges and the line rests as set."""
    settings = Settings()
    settings.rest_high, settings.active_falling = rest_high, active_falling
    board = VirtualBoard(StillMachine(), settings)
    board.board.conductor.burst(5, ONE_KHZ)
    board.run_until(20_000)
    active = [at_us for at_us, level in board.line.edges if level != active_falling]
    assert len(active) == 5 == board.board.clock.edges
    assert board.line.value == rest_high
    assert [later - earlier for earlier, later in itertools.pairwise(active)] == [1000] * 4


def test_duty_is_the_high_share_whatever_the_rest_level() -> None:
    """At a duty of 20 percent and 100 Hz the line is high for 2 ms of 10, resting low or high."""
    for rest_high in (False, True):
        settings = Settings()
        settings.duty_percent, settings.rest_high = 20, rest_high
        board = VirtualBoard(StillMachine(), settings)
        board.board.conductor.burst(4, HUNDRED_HZ)
        board.run_until(100_000)
        highs = [
            end - start
            for (start, level), (end, _) in zip(board.line.edges, board.line.edges[1:], strict=False)
            if level and end - start < 10_000
        ]
        assert highs[1:3] == [2000, 2000]


def test_rate_that_is_no_whole_period_is_never_faster_than_asked() -> None:
    """At 3 Hz the period is 333,334 us: rounded up, never down."""
    board = VirtualBoard(StillMachine())
    board.board.conductor.burst(3, 3000)
    board.run_until(2_000_000)
    assert board.rising_edges_us == [0, 333_334, 666_668]


def test_half_tick_waits_and_the_next_half_makes_it_whole() -> None:
    """Half a tick leaves the line high for as long as nobody asks; the second half brings it down, one tick in all."""
    board = VirtualBoard(Counter())
    board.board.conductor.half()
    board.run_until(5_000_000)
    assert board.line.edges == [(0, True)]
    board.board.conductor.half()
    board.run_until(6_000_000)
    assert board.line.edges == [(0, True), (5_000_000, False)]
    assert board.board.clock.edges == 1


def test_step_from_a_half_tick_ends_it_and_adds_whole_ticks() -> None:
    """Three ticks asked for in the middle of a tick are three more after it."""
    board = VirtualBoard(Counter())
    board.board.conductor.half()
    board.run_until(10_000)
    board.board.conductor.step(3)
    board.run_until(100_000)
    assert board.board.clock.edges == 4 == len(board.rising_edges_us)
    assert board.line.value is False


def test_halt_from_a_half_tick_makes_it_whole() -> None:
    """A halt in the middle of a half-made tick brings the line back to rest."""
    board = VirtualBoard(Counter())
    board.board.conductor.half()
    board.run_until(10_000)
    board.board.conductor.halt()
    board.run_until(100_000)
    assert board.line.value is False
    assert board.board.conductor.mode == "rest"


def test_samples_are_what_was_captured_and_what_it_became() -> None:
    """The early sample of each tick is from before its edge, the late one from before the other edge."""
    board = VirtualBoard(Counter())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("step", 3)
    hearing.take()
    assert [(tick.early, tick.late) for tick in hearing.ticks] == [(0, 1), (1, 2), (2, 3)]


def test_half_a_tick_that_a_rule_forbids_is_refused_and_the_board_goes_on() -> None:
    """A rule on early samples holds: no edge comes, the half is told to have failed, and a step is possible then."""
    hearing = Hearing(VirtualLink(VirtualBoard(Counter())))
    hearing.ask("stop_when", "N1,B,E1=0")
    answer = hearing.ask("half")
    assert (answer.kind, answer.why, answer.edges) == ("failed", "rule", 0)
    hearing.ask("stop_when", "none")
    assert hearing.ask("step", 2).edges == 2


def test_advance_from_half_a_tick_ends_at_the_tick_asked_for_where_the_trailing_edge_clocks() -> None:
    """Half a tick of which the active edge is still to come is one of the ticks on the way."""
    settings = Settings()
    settings.active_falling = True
    board = VirtualBoard(Counter(), settings)
    hearing = Hearing(VirtualLink(board))
    hearing.ask("half")
    assert board.board.clock.tick == 0
    answer = hearing.ask("to", 5, "1000")
    assert (answer.tick, answer.edges) == (5, 5)
    hearing.ask("half")
    assert hearing.ask("to", 6, "1000").tick == 6
