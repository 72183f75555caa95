"""The trigger for an oscilloscope: high for one tick, or from where a stop rule holds."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_wire import reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter, StillMachine

pytestmark = pytest.mark.usefixtures("on_pins")


@given(count=st.integers(1, 300), tick=st.integers(1, 400), rate=st.sampled_from(["10", "1000"]))
def test_trigger_stands_high_around_its_tick_and_no_other(count: int, tick: int, rate: str) -> None:
    """Raised before the edge of its tick, lowered before the next tick's; and all ticks are made."""
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
    assert up_us <= rises[tick - 1] < down_us
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
