"""Hands what the driver's thread hears over to the thread of the server."""

from __future__ import annotations

from collections import deque
from typing import NamedTuple

from handtick.classroom.room import Room
from handtick.events import Event

# More than a board makes between two looks, unless the server hangs; then the oldest are passed over. The log has all.
_MOST = 200_000


class Feed:
    """Told by the driver, in its thread; emptied into the room by the server, in its own."""

    def __init__(self) -> None:
        self._waiting: deque[Event | _Word] = deque(maxlen=_MOST)

    def take(self, event: Event) -> None:
        """Something happened."""
        self._waiting.append(event)

    def lose(self, message: str) -> None:
        """The board is gone."""
        self._waiting.append(_Word("lose", message))

    def say(self, message: str) -> None:
        """Something is to be said."""
        self._waiting.append(_Word("say", message))

    def empty_into(self, room: Room) -> None:
        """Tells the room all that waits."""
        for _ in range(len(self._waiting)):
            each = self._waiting.popleft()
            if isinstance(each, _Word):
                getattr(room.news.state, each.deed)(each.message)
            else:
                room.heard(each)


class _Word(NamedTuple):
    """Something to be told beside the events: what is done with it, "lose" or "say", and the message."""

    deed: str
    message: str
