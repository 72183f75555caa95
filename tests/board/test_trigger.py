"""The trigger for an oscilloscope: high for one tick, or from where a stop rule holds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board.soft_clock import TRIGGER_LEAD_US
from handtick_wire import reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter, StillMachine

pytestmark = pytest.mark.usefixtures("on_pins")


@given(count=st.integers(1, 300), tick=st.integers(1, 400), rate=st.sampled_from(["10", "1000"]))
def test_trigger_stands_high_around_its_tick_and_no_other(count: int, tick: int, rate: str) -> None:
    """Raised a stated time before the edge of its tick, lowered before the next tick's; and all ticks are made."""
    board = VirtualBoard(StillMachine())
    hearing = Hearing(VirtualLink(board))
    assert hearing.ask("trigger", tick).kind == "done"
    assert hearing.ask("burst", count, rate).edges == count
    rises = board.rising_edges_us
    assert len(rises) == count
    if tick > count:
        assert board.trigger.edges == []
        return
    (up_us, up), (down_us, down) = board.trigger.edges
    assert (up, down) == (True, False)
    assert up_us + TRIGGER_LEAD_US <= rises[tick - 1] < down_us
    assert tick < 2 or rises[tick - 2] < up_us
    assert tick == count or down_us <= rises[tick]


def test_trigger_rises_where_a_stop_rule_holds() -> None:
    """It stands high while the clock rests there, and goes down with the next tick."""
    board = VirtualBoard(Counter())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("stop_when", "N1,E00FF=05")
    assert hearing.ask("burst", 100, "1000").why == reasons.RULE
    assert board.trigger.value is True
    hearing.ask("stop_when", "none")
    hearing.ask("step", 1)
    assert board.trigger.value is False
    assert len(board.trigger.edges) == 2


def test_trigger_is_for_what_is_asked_for_next() -> None:
    """A second run past the same tick number, after a reset, moves it no more."""
    board = VirtualBoard(StillMachine())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("trigger", 2)
    hearing.ask("burst", 4, "1000")
    hearing.ask("reset")
    hearing.ask("burst", 4, "1000")
    assert len(board.trigger.edges) == 2


@given(tick=st.integers(1, 30), press_us=st.integers(0, 60_000), tenths=st.integers(0, 1))
def test_trigger_never_stands_for_a_tick_that_does_not_come(tick: int, press_us: int, tenths: int) -> None:
    """Halted at any time by the host or by the machine, it comes down, and stood for its own tick or for none."""
    board = VirtualBoard(StillMachine())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("trigger", tick)
    began_us = board.now_us
    if tenths:
        board.force_halt([(press_us, True)], began_us)
    else:
        board.at(began_us + press_us, board.board.conductor.halt)
    hearing.send("burst", 40, "1000")
    board.run_until(began_us + 200_000)
    rises = board.rising_edges_us
    assert len(rises) == board.board.clock.edges
    assert not board.trigger.value
    up_us = [at_us for at_us, level in board.trigger.edges if level]
    down_us = [at_us for at_us, level in board.trigger.edges if not level]
    assert len(up_us) == len(down_us) <= 1
    for up, down in zip(up_us, down_us, strict=True):
        assert [number for number, at_us in enumerate(rises, 1) if up <= at_us < down] in ([], [tick])


def test_trigger_stands_for_no_tick_under_reset() -> None:
    """Ticks made under reset have no number of their own yet; its tick is the one after."""
    board = VirtualBoard(StillMachine())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("trigger", 2)
    hearing.ask("reset")
    assert board.trigger.edges == []


def test_run_at_speed_is_told_as_ever_on_the_way_to_the_trigger() -> None:
    """At 100 Hz, ticks on the way to a far mark are told within a tenth of a second, not all at once there."""
    board = VirtualBoard(StillMachine())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("trigger", 500)
    began_us = board.now_us
    hearing.send("run", "100")
    board.run_until(began_us + 1_000_000)
    hearing.listen()
    assert len(hearing.ticks) >= 90


def test_trigger_that_would_stop_a_clock_that_may_not_is_refused() -> None:
    """The line rests around the marked tick."""
    hearing = Hearing(VirtualLink(VirtualBoard(StillMachine())))
    hearing.ask("limits", "no", 5, 5)
    assert hearing.ask("trigger", 3).why == reasons.MAY_NOT_STOP


def test_trigger_that_is_not_there_is_refused(monkeypatch: pytest.MonkeyPatch) -> None:
    """A board without the pin says so."""
    board = VirtualBoard(StillMachine())
    board.board.clock.trigger = None
    assert Hearing(VirtualLink(board)).ask("trigger", 3).why == reasons.NO_TRIGGER
