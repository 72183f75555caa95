"""Who is in the room: names, seats, and who is the teacher."""

from __future__ import annotations

from dataclasses import dataclass, field

from handtick.classroom.asked import LONGEST
from handtick.classroom.words import same, secret
from handtick.errors import Refused, UsageError

#: Most people at once, and most that are remembered for when they come back.
MOST_HERE = 400
MOST_KNOWN = 2000


PUPIL, TEACHER, SCREEN = "pupil", "teacher", "screen"


@dataclass(slots=True)
class Person:
    """Somebody.

    Attributes:
        number: from 1, in the order of joining.
        name: a first name or a seat; the teacher's and a watching screen's are given.
        role: ``PUPIL``, ``TEACHER`` or ``SCREEN``, which only watches.
        seat: brings them back after a lost connection; only their own page has it.
        here: how many connections they have now.
    """

    number: int
    name: str
    role: str = PUPIL
    seat: str = field(default_factory=secret)
    here: int = 0

    @property
    def teacher(self) -> bool:
        """Whether they have the teacher's secret."""
        return self.role == TEACHER


class People:
    """Everybody who joined."""

    def __init__(self, most_here: int = MOST_HERE) -> None:
        self.known: dict[int, Person] = {}
        self.most_here = most_here
        self._last = 0

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
        return person

    def sits(self, seat: str) -> Person | None:
        """Whose seat it is; None where it is nobody's."""
        found = None
        for person in self.known.values():
            if same(person.seat, seat):
                found = person
        return found

    def remove(self, number: int) -> None:
        """Somebody is sent out: their seat is no longer theirs."""
        self.known.pop(number, None)

    def count(self) -> int:
        """How many pupils are here."""
        return sum(1 for person in self.known.values() if person.here and person.role == PUPIL)

    def _not_taken(self, name: str) -> str:
        """The name, with a number behind where somebody has it already."""
        taken = {person.name.lower() for person in self.known.values()}
        number, free = 1, name
        while free.lower() in taken:
            number += 1
            free = f"{name} ({number})"
        return free

    def _forget(self) -> None:
        """Those gone longest are forgotten where there are too many."""
        if len(self.known) >= MOST_KNOWN:
            gone = next((each for each in self.known.values() if not each.here and not each.teacher), None)
            if gone is not None:
                del self.known[gone.number]


def clean_name(name: str) -> str:
    """A name in one line, without what is not to be seen.

    Raises:
        UsageError: nothing is left of it.
    """
    kept = " ".join("".join(letter if letter.isprintable() else " " for letter in name).split())
    if not kept or len(kept) > LONGEST["name"]:
        raise UsageError(f"a name has 1 to {LONGEST['name']} letters")
    return kept
