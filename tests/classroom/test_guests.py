"""Those who come over a broker: who they are, what they may, and that nothing is done twice."""

from __future__ import annotations

import json
import re
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.classroom.asked import LONGEST_MESSAGE
from handtick.classroom.guests import MOST_GUESTS, SILENT_S, STRANGERS_AT_ONCE, Guests, Letter
from handtick.classroom.meter import AT_ONCE, NOTES_A_SECOND, NOTES_AT_ONCE
from handtick.classroom.people import PUPIL
from handtick.classroom.words import TRIES_A_MINUTE, secret
from tests.classroom.a_class import ROOT
from tests.classroom.test_room import DRIVING, FIELDS, TEACHING, Class

WORD = "rain-rain"


class Remote:
    """A class with guests, whose clock only remembers what it was asked for; and a time of its own."""

    def __init__(self) -> None:
        self.room_of = Class()
        self.room = self.room_of.room
        self.guests = Guests(self.room, WORD)
        self.now_s = 100.0
        self.ids = 0

    @property
    def asked(self) -> list[tuple[int | str, ...]]:
        """What the clock was asked for."""
        return self.room_of.asked

    def send(
        self, answer_to: str | None = "answers/a", retained: bool = False, expiry_s: int | None = 5, **what: Any
    ) -> Any:
        """Sends a message, and returns the answer."""
        return self.guests.take(Letter(json.dumps(what).encode(), answer_to, retained, expiry_s), self.now_s)

    def new_id(self) -> int:
        """An id that was not there before."""
        self.ids += 1
        return self.ids

    def join(self, name: str = "Ada", answer_to: str = "answers/a") -> str:
        """Somebody joins; returns their seat."""
        answer = self.send(answer_to, do="join", name=name, word=WORD, id=self.new_id())
        return str(answer["hello"]["seat"])

    def ask(self, seat: str, do: str, /, **fields: Any) -> Any:
        """Somebody with a seat asks for something new."""
        return self.send(do=do, seat=seat, id=self.new_id(), **(fields or FIELDS.get(do, {})))

    def hand_to(self, seat: str) -> None:
        """The teacher hands the crank to somebody."""
        person = self.room.people.sits(seat)
        assert person is not None
        self.room_of.does(self.room_of.teacher, "give", person=person.number)
        self.asked.clear()


@pytest.fixture
def remote() -> Remote:
    """A class that can be joined."""
    return Remote()


def test_a_guest_stands_in_the_same_row_and_drives_once_it_is_their_turn(remote: Remote) -> None:
    """Joined, in the row, handed the crank: one step is one step."""
    seat = remote.join()
    assert remote.room.told()["here"] == 3
    assert remote.ask(seat, "step") == {"id": 2, "refused": "the teacher has the crank"}
    assert remote.ask(seat, "wait") == {"id": 3, "done": "wait"}
    assert [name for _, name in remote.room.told()["waiting"]] == ["Ada"]
    remote.room_of.does(remote.room_of.teacher, "next")
    remote.asked.clear()
    assert remote.ask(seat, "step") == {"id": 4, "done": "step"}
    assert remote.asked == [("step", 1)]
    remote.ask(seat, "return")
    assert remote.ask(seat, "step")["refused"] == "the teacher has the crank"


@pytest.mark.parametrize("do", [*DRIVING, *TEACHING])
def test_a_guest_without_the_crank_drives_nothing(remote: Remote, do: str) -> None:
    """Whatever is asked for; and what is the teacher's is never a guest's."""
    seat = remote.join()
    assert "refused" in remote.ask(seat, do)
    if do in TEACHING:
        remote.hand_to(seat)
        assert remote.ask(seat, do)["refused"] == "only the teacher can do that"
    assert remote.asked == []


@pytest.mark.parametrize("do", DRIVING)
def test_nobody_drives_without_a_seat(remote: Remote, do: str) -> None:
    """A made-up seat, the seat of somebody at a page, the room word: nothing is done."""
    remote.hand_to(remote.join())
    remote.room_of.does(remote.room_of.teacher, "take")
    remote.asked.clear()
    for seat in (secret(), "", WORD, remote.room_of.mira.seat, remote.room_of.teacher.seat):
        assert remote.ask(seat, do)["refused"] == "that seat is gone; join again"
    assert remote.asked == []


def test_the_teachers_seat_is_none_here(remote: Remote) -> None:
    """The teacher drives from the page, and neither `teach` nor `sit` is known."""
    for what in ({"do": "teach", "word": WORD}, {"do": "sit", "seat": remote.room_of.teacher.seat}):
        assert "nobody here can do that" in remote.send(id=remote.new_id(), **what)["refused"]


@given(st.lists(st.integers(0, 6), max_size=30))
def test_no_id_is_ever_done_twice(ids: list[int]) -> None:
    """In whatever order they come and however often: a message is done where its id is higher than all before it."""
    remote = Remote()
    seat = remote.join()
    remote.hand_to(seat)
    for number in ids:
        remote.send(do="to", tick=number, seat=seat, id=number)
    done = [values[1] for values in remote.asked]
    assert done == sorted(set(done))
    assert set(done) <= set(ids)
    assert not ids or max(ids) in done


def test_the_same_message_again_gets_the_same_answer(remote: Remote) -> None:
    """So whoever lost an answer may ask again; an older one is told that it has come."""
    seat = remote.join()
    remote.hand_to(seat)
    first = remote.send(do="step", seat=seat, id=7)
    assert remote.send(do="step", seat=seat, id=7) == first == {"id": 7, "done": "step"}
    assert "nothing was done again" in remote.send(do="step", seat=seat, id=6)["refused"]
    assert remote.asked == [("step", 1)]


def test_what_was_refused_is_not_done_later(remote: Remote) -> None:
    """The same id, asked again once the crank is there, stays refused."""
    seat = remote.join()
    refused = remote.send(do="step", seat=seat, id=7)
    remote.hand_to(seat)
    assert remote.send(do="step", seat=seat, id=7) == refused
    assert remote.asked == []


def test_joining_twice_with_one_message_is_one_person(remote: Remote) -> None:
    """Delivered again, it has the same seat; another message is another person."""
    first = remote.send(do="join", name="Ada", word=WORD, id=1)
    assert remote.send(do="join", name="Ada", word=WORD, id=1) == first
    assert remote.send(do="join", name="Ada", word=WORD, id=2)["hello"]["name"] == "Ada (2)"


@pytest.mark.parametrize("how", [{"retained": True}, {"expiry_s": None}, {"expiry_s": 11}])
def test_what_could_be_done_late_is_not_done_at_all(remote: Remote, how: dict[str, Any]) -> None:
    """Retained, or with nothing that ends its waiting at a broker."""
    seat = remote.join()
    remote.hand_to(seat)
    assert "nothing was done" in remote.send(do="step", seat=seat, id=9, **how)["refused"]
    assert remote.asked == []
    assert remote.send(do="step", seat=seat, id=9) == {"id": 9, "done": "step"}


def test_wrong_words_are_counted_all_together(remote: Remote) -> None:
    """As many in a minute as from one address of the page; then not even the right one is compared."""
    for number in range(TRIES_A_MINUTE):
        refused = remote.send(f"answers/{number}", do="join", name="Eve", word="none-none", id=number)["refused"]
        assert refused == "that is not the word of this room"
    assert "too many" in remote.send(do="join", name="Ada", word=WORD, id=99)["refused"]
    remote.now_s += 60
    assert "hello" in remote.send(do="join", name="Ada", word=WORD, id=99)


def test_a_seat_is_told_to_nobody_who_can_not_be_answered(remote: Remote) -> None:
    """And nobody has joined."""
    assert "response topic" in remote.send(None, do="join", name="Ada", word=WORD, id=1)["refused"]
    assert remote.room.told()["here"] == 2


def test_a_closed_door_is_closed_here_too(remote: Remote) -> None:
    """Nobody joins; who has joined goes on."""
    seat = remote.join()
    remote.room_of.does(remote.room_of.teacher, "door", open=False)
    assert "lets nobody in" in remote.send(do="join", name="Bo", word=WORD, id=5)["refused"]
    assert remote.ask(seat, "wait")["done"] == "wait"


def test_somebody_sent_out_is_out(remote: Remote) -> None:
    """Their seat is no seat any more."""
    seat = remote.join()
    person = remote.room.people.sits(seat)
    assert person is not None
    remote.room_of.does(remote.room_of.teacher, "remove", person=person.number)
    remote.guests.pass_time(remote.now_s)
    assert remote.ask(seat, "wait")["refused"] == "that seat is gone; join again"


def test_a_silent_holder_loses_the_crank_and_the_clock_rests(remote: Remote) -> None:
    """After so much silence they are taken for gone, and after the stated time the crank is the teacher's."""
    seat = remote.join()
    remote.hand_to(seat)
    for _ in range(5):
        remote.now_s += SILENT_S - 1
        remote.guests.pass_time(remote.now_s)
        assert remote.ask(seat, "here") == {"id": remote.ids, "done": "here"}
    remote.now_s += SILENT_S
    remote.guests.pass_time(remote.now_s)
    assert remote.room.told()["here"] == 2
    remote.room.pass_time(remote.now_s + 9.9)
    assert remote.asked == []
    remote.room.pass_time(remote.now_s + 10)
    assert remote.asked == [("halt",)]
    assert remote.room.told()["holder"] is None


def test_a_lost_broker_is_a_lost_link_of_every_guest(remote: Remote) -> None:
    """Heard again in time, the holder goes on."""
    seat = remote.join()
    remote.hand_to(seat)
    remote.guests.lost(remote.now_s)
    assert remote.room.told()["here"] == 2
    remote.now_s += 9
    assert remote.ask(seat, "step")["done"] == "step"
    remote.room.pass_time(remote.now_s + 60)
    assert remote.room.told()["holder_name"] == "Ada"


def test_the_same_message_again_is_no_sign_of_life(remote: Remote) -> None:
    """Only something new is."""
    seat = remote.join()
    remote.send(do="here", seat=seat, id=50)
    remote.now_s += SILENT_S - 1
    remote.send(do="here", seat=seat, id=50)
    remote.now_s += 1
    remote.guests.pass_time(remote.now_s)
    assert remote.room.told()["here"] == 2


def test_a_flood_of_one_guest_leaves_the_others_theirs(remote: Remote) -> None:
    """So many at once, and no answer to the rest; another guest is heard."""
    loud, quiet = remote.join("Loud"), remote.join("Quiet", "answers/b")
    answers = [remote.ask(loud, "here") for _ in range(3 * AT_ONCE)]
    assert sum(answer is not None for answer in answers) == AT_ONCE
    assert remote.ask(quiet, "here")["done"] == "here"


def test_a_flood_of_strangers_leaves_guests_theirs(remote: Remote) -> None:
    """What nobody vouches for is soon not looked at any more."""
    seat = remote.join()
    answers = [remote.send(do="step", seat="none", id=1) for _ in range(1000)]
    assert sum(answer is not None for answer in answers) < STRANGERS_AT_ONCE + 1
    assert remote.ask(seat, "here")["done"] == "here"


def test_guests_never_fill_the_room(remote: Remote) -> None:
    """So many at once; whoever is gone longest makes room, but for those who wait for the crank."""
    waits = remote.join("Waits", "answers/0")
    remote.ask(waits, "wait")
    for number in range(1, MOST_GUESTS):
        remote.now_s += 0.1
        remote.join(f"Guest {number}", f"answers/{number}")
    remote.now_s += 1
    full = remote.send("answers/x", do="join", name="Late", word=WORD, id=remote.new_id())
    assert "full" in full["refused"]
    remote.now_s += SILENT_S
    remote.guests.pass_time(remote.now_s)
    assert remote.join("Late", "answers/y")
    assert remote.ask(waits, "here")["done"] == "here"
    assert len(remote.room.people.known) == MOST_GUESTS + 4
    assert remote.room.join("Local", PUPIL).name == "Local"


@pytest.mark.parametrize(
    "payload",
    [
        b"",
        b"\xff\xfe",
        b"[]",
        b"null",
        b"{}",
        b"[" * 4000,
        b'{"do": "step"}',
        b'{"do": "join", "name": "", "word": "rain-rain", "id": 1}',
        b'{"do": "join", "name": "Ada", "word": "rain-rain", "id": true}',
        b'{"do": "join", "name": "Ada", "word": "rain-rain", "id": -1}',
        b'{"do": "join", "name": "Ada", "word": "rain-rain", "id": 1, "more": 1}',
        b'{"do": "here", "seat": 5, "id": 1}',
        b" " * (LONGEST_MESSAGE + 1),
    ],
)
def test_what_is_no_message_is_refused(remote: Remote, payload: bytes) -> None:
    """In a sentence; nobody joined, nothing was done."""
    answer = remote.guests.take(Letter(payload, "answers/a", False, 5), remote.now_s)
    assert answer is not None
    assert answer["refused"]
    assert remote.room.told()["here"] == 2
    assert remote.asked == []


@given(st.binary(max_size=200), st.booleans(), st.one_of(st.none(), st.integers(0, 2**32 - 1)))
def test_whatever_comes_does_nothing_to_the_clock(payload: bytes, retained: bool, expiry_s: int | None) -> None:
    """No bytes of a stranger drive, and none end the program."""
    remote = Remote()
    remote.guests.take(Letter(payload, "answers/a", retained, expiry_s), remote.now_s)
    assert remote.asked == []


def test_the_messages_of_the_reference_do_what_it_says(remote: Remote) -> None:
    """Sent one after the other, with the real word and seat: joined, in the row, no crank yet, still there."""
    page = (ROOT / "docs" / "reference" / "class.md").read_text(encoding="utf-8")
    seat = ""
    answers = []
    for line in re.findall(r'^\{"do".*\}$', page, re.MULTILINE):
        answer = remote.send(**json.loads(line.replace("ROOM-WORD", WORD).replace("SEAT", seat)))
        seat = seat or answer["hello"]["seat"]
        answers.append(answer)
    assert answers[0]["hello"]["name"] == "Ada"
    assert answers[1:] == [
        {"id": 2, "done": "wait"},
        {"id": 3, "refused": "the teacher has the crank"},
        {"id": 4, "done": "here"},
    ]


def test_a_guest_writes_no_more_notes_than_anybody(remote: Remote) -> None:
    """Each goes to the disk at once; what is too much is refused, and there is room again after a while."""
    seat = remote.join()
    note = {"text": "here", "reset": 0, "tick": 0}
    answers = [remote.ask(seat, "note", **note) for _ in range(NOTES_AT_ONCE + 1)]
    assert ["refused" in answer for answer in answers] == [False] * NOTES_AT_ONCE + [True]
    assert len(remote.asked) == NOTES_AT_ONCE
    remote.now_s += 1 / NOTES_A_SECOND
    assert "refused" not in remote.ask(seat, "note", **note)
