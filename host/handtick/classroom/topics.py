"""What of a shared clock stands at a broker: the topics, and what is to be published there next.

Only ticks wait, and only the latest; how everything stands is asked of the room at the moment of publishing. So a
broker that takes it slowly is skipped forward.
"""

from __future__ import annotations

import json
from collections import deque
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from handtick.classroom.news import TOLD
from handtick.classroom.room import Room

#: Seconds between two messages, answers apart: at most twenty a second. Between two of how everything stands.
EVERY_S = 0.05
STANDING_S = 0.25
#: Seconds for which the broker keeps how everything stands; it is told again after half of that.
KEPT_S = 600
#: Seconds after which a broker need not deliver ticks and answers any more.
STALE_S = 10
#: Ticks that go with how the clock stands.
RECENT = 16

HERE, CLOCK, ROOM, TICKS, ASK, ANSWERS = "here", "clock", "room", "ticks", "ask", "answers"


@dataclass(frozen=True, slots=True)
class Topic:
    """A topic: what comes behind the prefix, whether the broker retains it, and what it has."""

    behind: str
    retained: bool
    what: str


#: Every topic, in the order a reader needs them.
TOPICS: dict[str, Topic] = {
    HERE: Topic(
        "here",
        True,
        "whether the class is `here`; if so its `epoch`, `title`, `buses` as in `hello`, and `silent_s`. When the "
        "class ends `here` is false, and when it is lost too: then the broker says so (last will)",
    ),
    CLOCK: Topic(
        "clock", True, f"how the clock stands, as in `clock` of the page, with the last {RECENT} ticks as `new`"
    ),
    ROOM: Topic("room", True, "who has the crank, who waits and what is allowed, as in `room` of the page"),
    TICKS: Topic(
        "ticks", False, "the `new` ticks of one `boot` since the last message, and how many before them were `skipped`"
    ),
    ASK: Topic("ask/EPOCH", False, "what others ask for; `EPOCH` is the one of `here`"),
    ANSWERS: Topic("answers/...", False, "what they are answered, behind `answers/` as they choose (response topic)"),
}


@dataclass(frozen=True, slots=True)
class Published:
    """One message to a broker.

    Attributes:
        topic: in full.
        payload: JSON, or nothing, which takes away what was retained.
        retain: whether the broker keeps it for whoever comes later.
        expiry_s: seconds after which it is not delivered any more; None for never.
    """

    topic: str
    payload: str
    retain: bool = False
    expiry_s: int | None = None


class Topics:
    """The topics of one class.

    Args:
        prefix: what all begin with.
    """

    def __init__(self, prefix: str) -> None:
        self._prefix = prefix

    def of(self, name: str) -> str:
        """A topic in full, of those that have but one."""
        return f"{self._prefix}/{name}"

    def ask(self, epoch: str) -> str:
        """Where others ask."""
        return f"{self._prefix}/{ASK}/{epoch}"

    def may_be_answered(self, topic: str) -> bool:
        """Whether somebody may be answered there: nothing else may be written to at others' wish."""
        begins = self.of(ANSWERS) + "/"
        behind = topic.removeprefix(begins)
        return behind not in ("", topic) and len(behind) <= 200 and behind.isprintable() and not set(behind) & set("+#")

    def here(self, about: Mapping[str, Any]) -> Published:
        """That the class is here, with what is to be known of it."""
        return self._retained(HERE, json.dumps({"here": True, **about}))

    def gone(self) -> Published:
        """That the class is not here."""
        return self._retained(HERE, json.dumps({"here": False}))

    def farewell(self) -> list[Published]:
        """What leaves nothing behind."""
        return [self._retained(CLOCK, ""), self._retained(ROOM, ""), self.gone()]

    def _retained(self, name: str, payload: str) -> Published:
        return Published(self.of(name), payload, TOPICS[name].retained)


class Outbox:
    """What is to be published next.

    Args:
        room: asked how everything stands.
        topics: where to.
    """

    def __init__(self, room: Room, topics: Topics) -> None:
        self._room = room
        self._topics = topics
        self._ticks: deque[dict[str, Any]] = deque(maxlen=TOLD)
        self._boot = 0
        self._skipped = 0
        self._told_s: dict[str, float] = {}
        self._changed: set[str] = set()

    def start(self) -> None:
        """A connection begins: everything is told anew, and no tick that was before it."""
        self._ticks.clear()
        self._skipped = 0
        self._told_s.clear()
        self._changed = {ROOM, CLOCK}

    def take(self, clock: Mapping[str, Any], room_changed: bool) -> None:
        """Takes the news that pages get: the clock's as it is, and whether there is any of the room."""
        if clock["boot"] != self._boot:
            self._boot = clock["boot"]
            self._ticks.clear()
            self._skipped = 0
        self._skipped += clock["skipped"] + max(0, len(self._ticks) + len(clock["new"]) - TOLD)
        self._ticks.extend(clock["new"])
        self._changed |= {CLOCK, ROOM} if room_changed else {CLOCK}

    def next(self, now_s: float) -> Published | None:
        """What to publish at ``now_s``, in seconds of any clock that only goes on; None where nothing is due."""
        for name in (ROOM, CLOCK):
            if self._due(name, now_s):
                self._told_s[name] = now_s
                self._changed.discard(name)
                return Published(self._topics.of(name), json.dumps(self._standing(name)), TOPICS[name].retained, KEPT_S)
        if self._ticks:
            batch = {"boot": self._boot, "skipped": self._skipped, "new": list(self._ticks)}
            self._ticks.clear()
            self._skipped = 0
            return Published(self._topics.of(TICKS), json.dumps(batch), TOPICS[TICKS].retained, STALE_S)
        return None

    def _due(self, name: str, now_s: float) -> bool:
        told_s = self._told_s.get(name)
        if told_s is None:
            return True
        return now_s - told_s >= (STANDING_S if name in self._changed else KEPT_S / 2)

    def _standing(self, name: str) -> dict[str, Any]:
        if name == ROOM:
            return self._room.told()
        whole = self._room.news.whole()
        return {**whole, "new": whole["new"][-RECENT:]}
