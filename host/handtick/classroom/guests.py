"""Those who come over a broker: how they join, prove who they are and ask, each thing once. No socket is known here.

A guest joins with the room word and is then a person in the room like any other, in the same row for the crank.
Whatever they ask has their seat, which proves who asks, and an id, which only grows: so nothing is ever done twice,
however often it is delivered.
"""

from __future__ import annotations

from collections import OrderedDict
from dataclasses import dataclass, field
from typing import Any

from handtick.classroom.asked import DEEDS, JOINING, Asked, read
from handtick.classroom.meter import Meter
from handtick.classroom.people import Person
from handtick.classroom.room import Room
from handtick.classroom.topics import STALE_S
from handtick.classroom.words import Tries
from handtick.errors import HandtickError, Refused

#: Guests at once; whoever has been silent longest makes room for another.
MOST_GUESTS = 100
#: Seconds of silence after which a guest is taken for gone.
SILENT_S = 15.0
#: Messages without a right seat that are looked at: at once, and a second after that.
STRANGERS_AT_ONCE = 40
STRANGERS_A_SECOND = 10.0
_MOST_JOINS = 200
_BROKER = "the broker"

#: What every message over a broker has beside the fields of what it asks for.
PROOF = {"id": int, "seat": str}
#: What only guests send: that they are there.
STILL_HERE = "here"

_FIELDS = {
    "join": {**JOINING["join"], "id": int},
    STILL_HERE: PROOF,
    **{name: {**deed.fields, **PROOF} for name, deed in DEEDS.items()},
}


@dataclass(frozen=True, slots=True)
class Letter:
    """One message as a broker delivered it.

    Attributes:
        payload: what it says.
        answer_to: where its sender may be answered (response topic); None where nowhere.
        retained: whether it was published to be kept for later.
        expiry_s: seconds after which it was not to be delivered any more (message expiry interval); None for never.
    """

    payload: bytes
    answer_to: str | None = None
    retained: bool = False
    expiry_s: int | None = None


@dataclass(slots=True)
class _Guest:
    person: Person
    heard_s: float
    here: bool = False
    last_id: int = -1
    answer: dict[str, Any] = field(default_factory=dict)


class Guests:
    """All guests of a room.

    Args:
        room: the room.
        room_word: what they join with.
    """

    def __init__(self, room: Room, room_word: str) -> None:
        self._room = room
        self._room_word = room_word
        self._tries = Tries()
        self._strangers: Meter | None = None
        self._guests: dict[int, _Guest] = {}
        self._joins: OrderedDict[tuple[str, int], Person] = OrderedDict()

    def take(self, letter: Letter, now_s: float) -> dict[str, Any] | None:
        """Somebody asks for something at ``now_s``; returns what they are to be answered, None for nothing.

        What is too much is not looked at, and so not answered.
        """
        try:
            asked = _read(letter)
            guest = self._of(asked)
        except HandtickError as error:
            return {"refused": str(error)} if self._room_for_strangers(now_s) else None
        if guest is None:
            return self._stranger(letter, asked, now_s) if self._room_for_strangers(now_s) else None
        return self._ask(guest, asked, now_s) if guest.person.messages.take(now_s) else None

    def pass_time(self, now_s: float) -> None:
        """Lets time pass: who is silent for too long is taken for gone."""
        for number, guest in list(self._guests.items()):
            if self._room.people.known.get(number) is not guest.person:
                del self._guests[number]
            elif guest.here and now_s - guest.heard_s >= SILENT_S:
                self._away(guest, now_s)

    def lost(self, now_s: float) -> None:
        """The way to the broker is lost: no guest is here until they are heard again."""
        for guest in self._guests.values():
            if guest.here:
                self._away(guest, now_s)

    def _stranger(self, letter: Letter, asked: Asked, now_s: float) -> dict[str, Any]:
        try:
            if asked.do != "join":
                raise Refused("that seat is gone; join again")
            return self._join(letter, asked, now_s)
        except HandtickError as error:
            return {"id": asked.fields["id"], "refused": str(error)}

    def _join(self, letter: Letter, asked: Asked, now_s: float) -> dict[str, Any]:
        if letter.answer_to is None:
            raise Refused("nobody can be told their seat without a response topic")
        # Nobody knows from where a message comes to a broker: its guesses count together.
        self._tries.compare(_BROKER, asked.fields["word"], self._room_word, now_s)
        joined = letter.answer_to, asked.fields["id"]
        person = self._joins.get(joined)
        if person is None or self._room.people.known.get(person.number) is not person:
            person = self._joins[joined] = self._seat(asked.fields["name"], now_s)
            while len(self._joins) > _MOST_JOINS:
                self._joins.popitem(last=False)
        hello = {"seat": person.seat, "number": person.number, "name": person.name}
        return {"id": asked.fields["id"], "hello": hello}

    def _seat(self, name: str, now_s: float) -> Person:
        self._make_room()
        person = self._room.join(name)
        guest = _Guest(person, now_s)
        self._guests[person.number] = guest
        self._heard(guest, now_s)
        return person

    def _make_room(self) -> None:
        if len(self._guests) < MOST_GUESTS:
            return
        crank = self._room.crank
        busy = {crank.holder, *crank.waiting}
        silent = [each for number, each in self._guests.items() if not each.here and number not in busy]
        if not silent:
            raise Refused(f"the room is full: {MOST_GUESTS} people have joined over the broker")
        gone = min(silent, key=lambda guest: guest.heard_s).person.number
        del self._guests[gone]
        self._room.people.remove(gone)

    def _ask(self, guest: _Guest, asked: Asked, now_s: float) -> dict[str, Any]:
        number = asked.fields.pop("id")
        del asked.fields["seat"]
        if number == guest.last_id:
            return guest.answer
        if number < guest.last_id:
            return {"id": number, "refused": f"an id only grows, and {guest.last_id} has come; nothing was done again"}
        guest.last_id = number
        self._heard(guest, now_s)
        guest.answer = {"id": number, **self._do(guest.person, asked, now_s)}
        return guest.answer

    def _do(self, person: Person, asked: Asked, now_s: float) -> dict[str, Any]:
        try:
            if asked.do == "note":
                person.count_note(now_s)
            done = None if asked.do == STILL_HERE else self._room.take(person, asked)
        except HandtickError as error:
            return {"refused": str(error)}
        return done or {"done": asked.do}

    def _of(self, asked: Asked) -> _Guest | None:
        person = self._room.people.sits(asked.fields["seat"]) if "seat" in asked.fields else None
        return None if person is None else self._guests.get(person.number)

    def _heard(self, guest: _Guest, now_s: float) -> None:
        guest.heard_s = now_s
        if not guest.here:
            guest.here = True
            self._room.here(guest.person)

    def _away(self, guest: _Guest, now_s: float) -> None:
        guest.here = False
        self._room.away(guest.person, now_s)

    def _room_for_strangers(self, now_s: float) -> bool:
        if self._strangers is None:
            self._strangers = Meter(now_s, STRANGERS_AT_ONCE, STRANGERS_A_SECOND)
        return self._strangers.take(now_s)


def _read(letter: Letter) -> Asked:
    """Reads a message, if it is one that can't wait at a broker and be done later."""
    if letter.retained:
        raise Refused("what is asked for is not retained; nothing was done")
    if letter.expiry_s is None or letter.expiry_s > STALE_S:
        raise Refused(f"a message expiry interval of 1 to {STALE_S} s goes with each message; nothing was done")
    try:
        text: str | bytes = letter.payload.decode()
    except UnicodeDecodeError:
        text = letter.payload
    return read(text, _FIELDS)
