"""The tick button's contact, however its edges come while they are looked at."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from handtick_board.one_shot import OneShot
from handtick_board.outbox import Outbox
from handtick_board.ring import Ring
from handtick_board.tick_button import TickButton


class Trickle:
    """A contact whose edges come one look after the other.

    Attributes:
        train: (microsecond, closed), in order; those up to the present have come.
        now_us: goes on with each look at the time.
    """

    def __init__(self, train: list[tuple[int, bool]], a_look_us: int) -> None:
        self.train = list(train)
        self.now_us = 0
        self._a_look_us = a_look_us

    @property
    def waiting(self) -> bool:
        return bool(self.train) and self.train[0][0] <= self.now_us

    def edges(self, now_us: int) -> list[tuple[int, bool]]:
        """One of those that have come."""
        return [self.train.pop(0)] if self.waiting else []

    def look(self) -> int:
        """The time, a little later than before."""
        self.now_us += self._a_look_us
        return self.now_us


@given(
    gaps_us=st.lists(st.integers(1, 400), min_size=1, max_size=30),
    a_look_us=st.integers(1, 300),
)
def test_ticks_are_those_of_the_edges_alone(gaps_us: list[int], a_look_us: int) -> None:
    """No edge is lost, and no press made out of a contact that has opened again, whenever they are looked at."""
    at_us, closed, train = 10, False, [(10, False)]
    for gap_us in gaps_us:
        at_us, closed = at_us + gap_us, not closed
        train.append((at_us, closed))
    train.append((at_us + 50_000, False))
    alone = OneShot()
    expected = sum(alone.edge(at_us, closed) for at_us, closed in train) + alone.poll(train[-1][0] + 30_000)
    contact, presses = Trickle(train, a_look_us), []
    button = TickButton(contact, contact.look, OneShot(), Outbox(Ring(16)), lambda: presses.append(contact.now_us))
    while contact.train or contact.now_us < train[-1][0] + 30_000:
        button.watch(contact.look())
    assert len(presses) == expected


def test_press_fires_in_the_look_in_which_it_is_long_enough() -> None:
    """A contact that opens again while its closing is looked at was pressed, if for long enough, and ticks at once."""
    contact, presses = Trickle([(0, False), (1000, True), (1150, False)], 100), []
    button = TickButton(contact, contact.look, OneShot(), Outbox(Ring(16)), lambda: presses.append(contact.now_us))
    contact.now_us = 1
    button.watch(contact.look())
    contact.now_us = 1080
    button.watch(contact.look())
    assert len(presses) == 1
