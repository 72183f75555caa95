"""When a command that is waited for is said again, and when waiting is given up; no I/O, time comes in as seconds.

A command can be torn on its way, and so can its answer. The same line said again is always right: the board does what
never arrived, passes over what is under way, and answers once more what it has done.
"""

from __future__ import annotations

from collections.abc import Sequence

from handtick.events import Damage, Event, Greeting, Notice
from handtick_wire import reasons

#: What to do next: wait on, say the command again, ask who is there and say it again, or give up.
WAIT, AGAIN, WHO, SILENT, UNANSWERED = "wait", "again", "who", "silent", "unanswered"

SILENCE_S = 2.0
_LONGEST_S = 64.0
_TRIES = 5
# Said again at once where something was torn, but not without end where everything is.
_TRIES_AT_ONCE = 3

# Answered when the clock has done something, however long that takes, or in their place behind all that is told.
_SLOW = ("step", "half", "burst", "to", "run", "halt", "reset", "ready_hold", "ready_step", "ready_go", "bye")


class Waiting:
    """The wait for one answer.

    Args:
        kind: the command's word.
    """

    def __init__(self, kind: str) -> None:
        self._slow = kind in _SLOW
        self._silent_s = self._since_s = 0.0
        self._pause_s = SILENCE_S
        self._tries = self._at_once = 0
        self._at_rest = False
        self._muffled = False

    def hear(self, events: Sequence[Event] | None, seconds: float) -> str:
        """Takes what came in so many seconds, None for no byte at all; returns what to do."""
        self._since_s += seconds
        if events is None:
            self._silent_s += seconds
            return self._quiet()
        self._silent_s = 0.0
        # Bytes that tell nothing may be taken for the rest of a block that was cut short, and so would an answer be.
        self._muffled = not events
        torn = False
        for event in events:
            if isinstance(event, Damage) or (isinstance(event, Notice) and event.what == reasons.DAMAGED_COMMAND):
                torn = True
            elif isinstance(event, Greeting) and event.fields["mode"] == "rest" and event.fields["waiting"] == 0:
                self._at_rest = True
        if torn and self._at_once < _TRIES_AT_ONCE:
            self._at_once += 1
            return AGAIN
        return self._again(AGAIN) if self._since_s >= self._pause_s else WAIT

    def _quiet(self) -> str:
        if self._silent_s >= 2 * SILENCE_S:
            return SILENT
        if self._muffled:
            self._muffled = False
            return WHO
        # A slow clock is silent for long. A board that is there says so at once.
        if self._silent_s >= SILENCE_S and self._since_s >= SILENCE_S:
            return self._again(WHO)
        return WAIT

    def _again(self, how: str) -> str:
        if self._at_rest or not self._slow:
            # Nothing keeps the board from answering.
            self._tries += 1
        if self._tries > _TRIES:
            return UNANSWERED
        if self._slow and how == AGAIN:
            self._pause_s = min(2 * self._pause_s, _LONGEST_S)
        self._since_s = 0.0
        self._at_once = 0
        self._at_rest = False
        return how
