"""What a class is told of the clock: how it stands, and the ticks since it was last told, in words of the wiring file.

News is drawn up a few times a second, once for everybody; whoever was not listening gets all of it anew.
"""

from __future__ import annotations

from bisect import bisect_right
from typing import Any

from handtick.events import Answer, Event, Greeting, Half, ResetDone, State, Tick
from handtick.live.state import LiveState
from handtick.wiring import Bus, Wiring
from handtick_wire import reasons
from handtick_wire.messages import FLAG_DISAGREED, FLAG_IN_RESET, FLAG_UNSETTLED

#: Most ticks told at once, and most kept for whoever looks back.
TOLD = 64
KEPT = 8192

_MARKS = {FLAG_IN_RESET: "under reset", FLAG_UNSETTLED: "unsettled", FLAG_DISAGREED: "probes disagreed"}


class News:
    """Takes the session's events.

    Args:
        wiring: names the buses.
        live: False where the ticks are from a log.

    Attributes:
        live: as given.
        state: how the bench stands.
        half: whether half a tick is done and the other half is to come.
        boot: boot number of the board; 0 before it greeted.
    """

    def __init__(self, wiring: Wiring, live: bool = True) -> None:
        self.state = LiveState(wiring)
        self.half = False
        self.boot = 0
        self.live = live
        self._buses = wiring.shown
        self._kept: list[Tick] = []
        self._fresh = 0
        self._failure = ""

    def take(self, event: Event) -> None:
        """Takes one event."""
        self.state.take(event)
        self._forget_failure(event)
        if isinstance(event, Tick):
            self._kept.append(event)
            if len(self._kept) >= 2 * KEPT:
                del self._kept[:KEPT]
            self._fresh += 1
            self.half = False
        elif isinstance(event, Half):
            self.half = event.phase == "lead"
        elif isinstance(event, ResetDone):
            self.half = False
        elif isinstance(event, Greeting):
            self.half = event.fields["mode"] == "held"
            if event.boot != self.boot:
                self._kept.clear()
                self._fresh = 0
            self.boot = event.boot

    @property
    def changed(self) -> bool:
        """Whether there is anything to tell."""
        return self.state.changed

    def buses(self) -> list[dict[str, Any]]:
        """The buses as a page needs them: name, bits, and letters of the longest value."""
        return [{"name": bus.name, "bits": bus.width, "widest": bus.widest} for bus in self._buses]

    def since(self) -> dict[str, Any]:
        """What has happened since this was last asked, and how everything stands."""
        self.state.changed = False
        fresh, self._fresh = self._fresh, 0
        told = min(fresh, TOLD)
        return {**self._now(), "new": self._last(told), "skipped": fresh - told}

    def whole(self) -> dict[str, Any]:
        """How everything stands, with the last ticks, for whoever comes now."""
        return {**self._now(), "new": self._last(TOLD), "whole": True, "skipped": 0}

    def back(self, reset: int, last: int) -> list[dict[str, Any]]:
        """Up to ``TOLD`` of the kept ticks of a reset, up to tick ``last``."""
        end = bisect_right(self._kept, (reset, last), key=lambda tick: (tick.reset, tick.tick))
        return [self.told(tick) for tick in self._kept[max(0, end - TOLD) : end] if tick.reset == reset]

    def told(self, tick: Tick) -> dict[str, Any]:
        """A tick as a page has it: place, what it captured, what it became, what to know of its samples."""
        return {
            "reset": tick.reset,
            "tick": tick.tick,
            "before": [_text(bus, tick.early) for bus in self._buses],
            "after": [_text(bus, tick.late) for bus in self._buses],
            "marks": [word for flag, word in _MARKS.items() if tick.flags & flag],
        }

    def _forget_failure(self, event: Event) -> None:
        """What was refused or came to nothing is no longer said once anything asked for later is done or begins."""
        if isinstance(event, Answer) and event.kind != "done":
            # A halt that was asked for is no failure, and nothing was said of it.
            self._failure = self.state.message if event.why != reasons.HALTED else ""
        elif isinstance(event, Answer | ResetDone) or (isinstance(event, State) and event.mode == "moving"):
            if self.state.message == self._failure:
                self.state.message = ""
            self._failure = ""

    def _now(self) -> dict[str, Any]:
        state = self.state
        return {
            "boot": self.boot,
            "tick": state.tick,
            "reset": state.reset,
            "edges": state.edges,
            "clock": state.clock_words,
            "running": state.running,
            "half": self.half,
            "rate": state.rate,
            "there": not state.lost,
            "live": self.live,
            "said": state.lost or state.message,
            "now": [[before, after, changed] for _, before, after, changed in state.rows()],
        }

    def _last(self, count: int) -> list[dict[str, Any]]:
        return [self.told(tick) for tick in self._kept[-count:]] if count else []


def _text(bus: Bus, sample: int) -> str:
    """A value as shown; a single line as its level, which a page draws."""
    value = bus.value(sample)
    return str(value) if bus.width == 1 else bus.text(value)
