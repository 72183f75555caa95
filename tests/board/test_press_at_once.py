"""A press while the clock is at rest: its tick is ready beforehand, and what asks for something else undoes that."""

from __future__ import annotations

import pytest

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick.virtual.burst_line import BurstLine
from handtick_board.one_shot import PRESS_US, OneShot
from handtick_board.outbox import Outbox
from handtick_board.ring import Ring
from handtick_board.tick_button import TickButton
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter

pytestmark = pytest.mark.usefixtures("in_bursts")

PRESS = [(0, 1), (30_000, 0)]


class Watched:
    """A board at rest whose clock line is watched for ticks that are made ready."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.board = VirtualBoard(Counter())
        self.hearing = Hearing(VirtualLink(self.board))
        assert isinstance(self.board.line, BurstLine)
        self.loaded_us: list[int] = []
        load = self.board.line.load

        def noted(*what: object) -> None:
            self.loaded_us.append(self.board.now_us)
            load(*what)  # type: ignore[arg-type]

        monkeypatch.setattr(self.board.line, "load", noted)

    def rest(self, us: int = 2_000_000) -> None:
        """Lets time pass."""
        self.board.run_until(self.board.now_us + us)

    def press(self) -> int:
        """Presses; returns the time at which the contact closed."""
        at_us = self.board.now_us
        self.board.press(PRESS, at_us)
        self.rest()
        self.hearing.take()
        return at_us


def test_tick_of_a_press_was_ready_before_the_contact_closed(monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is left to prepare once the press time is over."""
    watched = Watched(monkeypatch)
    for number in range(1, 4):
        watched.rest()
        at_us = watched.press()
        assert watched.board.rising_edges_us[-1] == at_us + PRESS_US
        assert not [us for us in watched.loaded_us if at_us <= us <= at_us + PRESS_US]
        assert watched.hearing.ticks[-1].tick == number
        assert watched.hearing.states[-1].edges == number


def test_what_comes_between_is_done_as_asked_and_the_press_after_it(monkeypatch: pytest.MonkeyPatch) -> None:
    """A burst, half a tick, a reset and a new rule find a tick ready that is not theirs; all counts stay right."""
    watched = Watched(monkeypatch)
    hearing = watched.hearing
    watched.rest()
    assert hearing.ask("burst", 5, "1000").edges == 5
    watched.rest()
    assert hearing.ask("half").kind == "done"
    watched.press()
    assert hearing.ticks[-1].tick == 7
    watched.rest()
    assert hearing.ask("reset").kind == "done"
    watched.rest()
    hearing.ask("stop_when", "N1,T=99999")
    watched.press()
    assert hearing.ticks[-1].tick == 1
    hearing.ask("stop_when", "none")
    watched.rest()
    watched.press()
    assert [(tick.tick, tick.early, tick.late) for tick in hearing.ticks[-2:]] == [(1, 2, 3), (2, 3, 4)]
    assert len(watched.board.rising_edges_us) == hearing.states[-1].edges == 11


def test_press_goes_past_a_halt_line_and_a_run_does_not(monkeypatch: pytest.MonkeyPatch) -> None:
    """The halt line came while nobody looked: a press is a tick all the same, a run is refused."""
    watched = Watched(monkeypatch)
    watched.rest()
    watched.board.force_halt([(0, 1)], watched.board.now_us)
    watched.rest()
    watched.press()
    assert [tick.tick for tick in watched.hearing.ticks] == [1]
    assert watched.hearing.ask("run", "10").why == "halt-line"
    assert len(watched.board.rising_edges_us) == 1


def test_presses_without_a_host_are_kept_until_one_comes() -> None:
    """Nobody listens: each press is a tick, and its record is there for whoever greets later."""
    board = VirtualBoard(Counter())
    for _ in range(3):
        board.press(PRESS, board.now_us)
        board.run_until(board.now_us + 1_000_000)
    hearing = Hearing(VirtualLink(board))
    hearing.take()
    assert [(tick.tick, tick.early, tick.late) for tick in hearing.ticks] == [(1, 0, 1), (2, 1, 2), (3, 2, 3)]


class LateContact:
    """A contact that opens after its edges were asked for."""

    def __init__(self, edges: list[list[tuple[int, bool]]]) -> None:
        self._edges = edges

    @property
    def waiting(self) -> bool:
        return bool(self._edges)

    def edges(self, now_us: int) -> list[tuple[int, bool]]:
        return self._edges.pop(0) if self._edges else []


def test_contact_that_opens_while_it_is_looked_at_is_a_spike() -> None:
    """Closed for 85 us; a look 150 us after it closed has not seen it open yet, and still takes it for no press."""
    presses: list[int] = []
    outbox = Outbox(Ring(16))
    one_shot = OneShot()
    one_shot.edge(0, False)
    one_shot.poll(100_000)
    contact = LateContact([[(200_000, True)], [(200_085, False)]])
    button = TickButton(contact, lambda: 200_150, one_shot, outbox, lambda: presses.append(1))
    button.watch(200_050)
    button.watch(200_150)
    assert presses == []
    assert one_shot.spikes == 1
