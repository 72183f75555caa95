"""The stamped tick button when its contact moves more often between two looks than the ring has room for."""

from __future__ import annotations

import random

import pytest

from handtick_board.edge_stamps import RING_WORDS, StampedContact
from handtick_board.one_shot import OneShot
from handtick_board.outbox import Outbox
from handtick_board.ring import Ring
from handtick_board.tick_button import TickButton


class Stamper:
    """The state machine and what fills the ring from it, edge by edge: it goes round and round and waits for nobody.

    Attributes:
        now_us: the time; an edge is at the present.
        closed: where the contact stands.
    """

    def __init__(self) -> None:
        self.now_us = 0
        self.closed = False
        self._at = 0
        self._began_us = 0
        self._runs = False
        self._ring = memoryview(bytearray())

    def StateMachine(self, words: object, **options: object) -> Stamper:  # noqa: N802
        """As ``rp2pio`` has it; there is one."""
        self._runs = True
        return self

    def background_read(self, loop: memoryview) -> None:
        self._ring = loop

    def stop(self) -> None:
        self._runs = False

    def restart(self) -> None:
        self._runs = True
        self._began_us = self.now_us
        self._hand_out()

    def move(self, after_us: int, closed: bool) -> None:
        """The contact moves."""
        self.now_us += after_us
        self.closed = closed
        if self._runs:
            self._hand_out()

    def _hand_out(self) -> None:
        count = 0xFFFFFFFF - (self.now_us - self._began_us)
        self._ring[self._at] = (count << 2 | 2 | (not self.closed)) & 0xFFFFFFFF
        self._at = (self._at + 1) % RING_WORDS


class Hand:
    """The button on such a stamper, and whose hand presses it.

    Attributes:
        presses: the time of each press that the button made.
    """

    def __init__(self) -> None:
        self.stamper = Stamper()
        self.presses: list[int] = []
        self.one_shot = OneShot()
        self.outbox = Outbox(Ring(16))
        contact = StampedContact(None, self._now, self.stamper, None)
        self.button = TickButton(contact, self._now, self.one_shot, self.outbox, self._press)
        self.look(50_000)

    def chatter(self, edges: int, closed_us: int = 40, open_us: int = 400) -> None:
        """So many edges without a look between them."""
        for number in range(edges):
            self.stamper.move(closed_us if number % 2 else open_us, not self.stamper.closed)

    def press(self) -> None:
        """A clean press, with looks as the loop has them."""
        self.stamper.move(1000, True)
        self.look(200)
        self.look(30_000)
        self.stamper.move(1000, False)
        self.look(200)
        self.look(30_000)

    def look(self, after_us: int = 0) -> None:
        """A look after some time."""
        self.stamper.now_us += after_us
        self.button.watch(self.stamper.now_us)

    def _now(self) -> int:
        return self.stamper.now_us

    def _press(self) -> None:
        self.presses.append(self.stamper.now_us)


@pytest.mark.fault(
    "machine",
    "a worn contact makes hundreds of edges between two looks",
    "a spike and no tick; the next press is one",
)
@pytest.mark.parametrize("edges", range(2, 4 * RING_WORDS + 8, 2))
def test_button_works_again_after_any_number_of_edges(edges: int) -> None:
    """However often a contact moved between two looks, it made no tick by spikes, and each press after it is one."""
    hand = Hand()
    hand.chatter(edges)
    hand.look()
    hand.look(50_000)
    assert hand.presses == []
    for number in range(70):
        hand.press()
        assert len(hand.presses) == number + 1
    assert hand.one_shot.spikes > 0


@pytest.mark.parametrize("edges", [RING_WORDS + 1, RING_WORDS + 7, 3 * RING_WORDS + 1])
def test_contact_found_closed_is_no_press(edges: int) -> None:
    """Where edges went by unseen, a contact that is closed by then ticks nothing; opened and pressed again, it does."""
    hand = Hand()
    hand.chatter(edges)
    assert hand.stamper.closed
    hand.look()
    hand.look(1_000_000)
    assert hand.presses == []
    hand.stamper.move(1000, False)
    hand.look(100_000)
    hand.press()
    assert len(hand.presses) == 1


def test_release_that_bounces_beyond_measure_is_no_second_press() -> None:
    """The contact of a press that fired is found open between two bounces: what bounces on makes no tick."""
    hand = Hand()
    hand.stamper.move(1000, True)
    hand.look(200)
    hand.look(300_000)
    assert len(hand.presses) == 1
    hand.chatter(2 * RING_WORDS + 1, closed_us=100, open_us=100)
    hand.look()
    assert not hand.stamper.closed
    hand.chatter(10, closed_us=3000, open_us=200)
    hand.look()
    hand.look(100_000)
    assert len(hand.presses) == 1
    hand.press()
    assert len(hand.presses) == 2


def test_edges_keep_time_after_more_than_there_was_room_for() -> None:
    """The state machine has begun anew: its edges are in board time as before."""
    hand = Hand()
    hand.chatter(2 * RING_WORDS + 4)
    hand.look()
    hand.look(50_000)
    hand.stamper.move(1000, True)
    closed_us = hand.stamper.now_us
    hand.stamper.now_us += 70
    hand.look()
    assert hand.presses == []
    assert hand.one_shot.due_us() == closed_us + hand.one_shot.press_us


def test_recording_of_the_contact_tells_that_edges_are_missing() -> None:
    """While edges are told, those that nobody saw leave a line out, so that the host knows; then where it stands."""
    hand = Hand()
    hand.outbox.open = True
    hand.button.tell("on")
    lines = hand.outbox.lines
    hand.chatter(RING_WORDS + 6)
    hand.look()
    assert hand.outbox.lines == lines + 1
    written = bytearray()

    class Port:
        def write(self, data: bytes) -> int:
            written.extend(data)
            return len(data)

    hand.outbox.pump(Port(), 100)
    assert written.count(b"contact closed=0") == 2


def test_presses_among_noise_are_never_more_than_were_made() -> None:
    """Presses, chatter and looks in any order: never more ticks than closures that were long enough to be a press."""
    rng = random.Random(7)
    hand = Hand()
    for _ in range(400):
        before = len(hand.presses)
        if rng.random() < 0.5:
            hand.press()
            assert len(hand.presses) == before + 1
        else:
            hand.chatter(2 * rng.randrange(100))
            hand.look()
            hand.look(50_000)
            assert len(hand.presses) == before
