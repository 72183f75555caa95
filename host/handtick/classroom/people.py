"""Who is in the room: names, seats, and who is the teacher."""

from __future__ import annotations

import hashlib
import unicodedata
from dataclasses import dataclass, field

from handtick.classroom.asked import LONGEST, one_line
from handtick.classroom.meter import NOTES_A_SECOND, NOTES_AT_ONCE, Meter
from handtick.classroom.words import plain, secret
from handtick.errors import Refused, UsageError

#: Most people at once, and most that are remembered for when they come back.
MOST_HERE = 400
MOST_KNOWN = 800

PUPIL, TEACHER, SCREEN = "pupil", "teacher", "screen"
# What the teacher is called, so that nobody else is.
_TEACHERS = "the teacher"


@dataclass(slots=True)
class Person:
    """Somebody.

    Attributes:
        number: from 1, in the order of joining.
        name: a first name or a seat; the teacher's and a watching screen's are given.
        role: ``PUPIL``, ``TEACHER`` or ``SCREEN``, which only watches.
        seat: brings them back after a lost connection; only their own page has it.
        here: how many connections they have now.
        messages, notes: what they may still send, over however many connections.
    """

    number: int
    name: str
    role: str = PUPIL
    seat: str = field(default_factory=secret)
    here: int = 0
    messages: Meter = field(default_factory=lambda: Meter(0.0))
    notes: Meter = field(default_factory=lambda: Meter(0.0, NOTES_AT_ONCE, NOTES_A_SECOND))

    @property
    def teacher(self) -> bool:
        """Whether they have the teacher's secret."""
        return self.role == TEACHER

    def count_note(self, now_s: float) -> None:
        """They write one more note.

        Raises:
            Refused: that is too much at once.
        """
        if not self.notes.take(now_s):
            raise Refused("so many notes at once are not taken; wait a little")


class People:
    """Everybody who joined."""

    def __init__(self, most_here: int = MOST_HERE) -> None:
        self.known: dict[int, Person] = {}
        self.most_here = most_here
        self._last = 0
        # By what can't be turned back into a seat, so that looking one up tells nothing of the others.
        self._seats: dict[bytes, Person] = {}

    def join(self, name: str, role: str = PUPIL) -> Person:
        """Somebody comes in.

        Raises:
            UsageError: the name is none.
            Refused: the room is full.
        """
        if role != TEACHER and sum(1 for each in self.known.values() if each.here) >= self.most_here:
            raise Refused(f"the room is full: {self.most_here} people are in it")
        given = clean_name(name)
        self._forget()
        self._last += 1
        person = Person(self._last, given if role == TEACHER else self._not_taken(given), role)
        self.known[person.number] = person
        self._seats[_digest(person.seat)] = person
        return person

    def sits(self, seat: str) -> Person | None:
        """Whose seat it is; None where it is nobody's."""
        return self._seats.get(_digest(seat))

    def remove(self, number: int) -> None:
        """Somebody is sent out: their seat is no longer theirs."""
        person = self.known.pop(number, None)
        if person is not None:
            del self._seats[_digest(person.seat)]

    def count(self) -> int:
        """How many pupils are here."""
        return sum(1 for person in self.known.values() if person.here and person.role == PUPIL)

    def _not_taken(self, name: str) -> str:
        """The name, with a number behind where somebody has it already, or one that looks the same."""
        taken = {_TEACHERS, *(_likeness(person.name) for person in self.known.values())}
        number, free = 1, name
        while _likeness(free) in taken:
            number += 1
            behind = f" ({number})"
            free = name[: LONGEST["name"] - len(behind)] + behind
        return free

    def _forget(self) -> None:
        """Where there are too many, the first who are gone are forgotten."""
        if len(self.known) >= MOST_KNOWN:
            gone = next((each for each in self.known.values() if not each.here and not each.teacher), None)
            if gone is not None:
                self.remove(gone.number)


def clean_name(name: str) -> str:
    """A name in one line, without what is not to be seen.

    Raises:
        UsageError: nothing is left of it.
    """
    kept = one_line(name)
    if not kept or len(kept) > LONGEST["name"]:
        raise UsageError(f"a name has 1 to {LONGEST['name']} letters")
    return kept


def _digest(seat: str) -> bytes:
    return hashlib.sha256(plain(seat).encode()).digest()


def _likeness(name: str) -> str:
    """What names have in common that differ in size, width or style of letters only."""
    return unicodedata.normalize("NFKC", name).casefold()
