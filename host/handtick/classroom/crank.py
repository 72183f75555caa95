"""The crank: the right to drive the clock. One person holds it, others wait for it in a row."""

from __future__ import annotations

from collections.abc import Iterable

#: Seconds after which the crank of somebody whose link is gone comes back to the teacher.
GONE_S = 10.0
#: How many may wait.
MOST_WAITING = 50


class Crank:
    """Who holds it and who waits. People are their numbers; nobody holding it means the teacher does.

    Args:
        gone_s: seconds after which it comes back from a holder who is gone.

    Attributes:
        holder: who holds it; None where the teacher does.
        waiting: who waits, the first first.
    """

    def __init__(self, gone_s: float = GONE_S) -> None:
        self.holder: int | None = None
        self.waiting: list[int] = []
        self.gone_s = gone_s
        self._gone_since_s: float | None = None

    def ask(self, person: int) -> bool:
        """Somebody wants it; False where they can't be put into the row."""
        if person == self.holder or person in self.waiting or len(self.waiting) >= MOST_WAITING:
            return False
        self.waiting.append(person)
        return True

    def keep(self, people: Iterable[int]) -> None:
        """Nobody but these waits for it any longer, and in the same row."""
        kept = set(people)
        self.waiting = [person for person in self.waiting if person in kept]

    def leave(self, person: int) -> None:
        """Somebody no longer waits for it."""
        if person in self.waiting:
            self.waiting.remove(person)

    def give(self, person: int | None) -> bool:
        """Hands it to somebody, or with None back to the teacher; False where nothing changes."""
        if person == self.holder:
            return False
        if person is not None:
            self.leave(person)
        self.holder = person
        self._gone_since_s = None
        return True

    def gone(self, person: int, now_s: float) -> None:
        """Somebody's link is gone; their place in the row stays theirs."""
        if person == self.holder:
            self._gone_since_s = now_s

    def back(self, person: int) -> None:
        """Somebody is there again."""
        if person == self.holder:
            self._gone_since_s = None

    def due_s(self) -> float | None:
        """When it comes back by itself, as things stand; None for never."""
        return None if self._gone_since_s is None else self._gone_since_s + self.gone_s

    def pass_time(self, now_s: float) -> bool:
        """Lets time pass; True where the crank has just come back by itself."""
        due_s = self.due_s()
        return due_s is not None and now_s >= due_s and self.give(None)
