"""How a bench stands: told by the session's events, asked by whatever draws it."""

from __future__ import annotations

from collections import deque

from handtick import log
from handtick.events import Answer, Event, Gap, Greeting, Half, Notice, ResetDone, State, Status, Tick
from handtick.wiring import Bus, Wiring
from handtick_wire import reasons
from handtick_wire.described import sentence

KEPT_TICKS = 40

_MODES = {
    "rest": "at rest",
    "held": "held half a tick on",
    "moving": "running",
    "ending": "coming to rest",
    "waiting": "waiting: the log is full",
    "reset": "being reset",
}


class LiveState:
    """Takes events.

    Args:
        wiring: names the buses.

    Attributes:
        changed: whether anything has come since the last look; whoever looks sets it False.
        tick, edges, reset: where the board is.
        mode: the clock's mode.
        why: why it came to rest, in words; empty while it runs.
        rate: ticks a second, as set.
        message: the last thing to be said to the user.
        lost: what is said while the board is gone; empty while it is there.
        ticks: the last ticks, oldest first.
    """

    def __init__(self, wiring: Wiring) -> None:
        self.wiring = wiring
        self.changed = True
        self.tick = self.edges = self.reset = 0
        self.mode = ""
        self.why = ""
        self.rate = "10"
        self.message = ""
        self.lost = "looking for the board"
        self.ticks: deque[Tick] = deque(maxlen=KEPT_TICKS)
        self._probes: int | None = None
        self._before: int | None = None

    def take(self, event: Event) -> None:
        """Takes one event."""
        self._take(event)
        # Last, as somebody in another thread may look at any moment, and would find nothing new yet.
        self.changed = True

    def lose(self, message: str) -> None:
        """The board is gone."""
        self.lost = message
        self.changed = True

    def say(self, message: str) -> None:
        """Says something to the user."""
        self.message = message
        self.changed = True

    @property
    def clock_words(self) -> str:
        """How the clock stands."""
        if self.lost:
            return "no board"
        words = _MODES.get(self.mode, self.mode)
        return f"{words}: {self.why}" if self.why else words

    @property
    def running(self) -> bool:
        """Whether the clock makes ticks by itself."""
        return self.mode in ("moving", "ending", "waiting")

    def rows(self) -> list[tuple[Bus, str, str, bool]]:
        """Each bus with its value before the last edge and after it, and whether it changed."""
        found = []
        for bus in self.wiring.shown:
            before = "-" if self._before is None else bus.text(bus.value(self._before))
            after = "-" if self._probes is None else bus.text(bus.value(self._probes))
            found.append((bus, before, after, self._before is not None and before != after))
        return found

    def logged_ticks(self, most: int) -> list[log.Tick]:
        """The last ticks as the diagram takes them."""
        return [
            log.Tick(tick.boot, tick.reset, tick.tick, tick.early, tick.late, tick.time_us, tick.flags)
            for tick in list(self.ticks)[-most:]
        ]

    def _take(self, event: Event) -> None:
        if isinstance(event, Tick):
            self._tick(event)
        elif isinstance(event, Greeting):
            self.lost = ""
            self.mode = str(event.fields["mode"])
            self.reset, self.tick, self.edges = event.reset, event.tick, event.edges
        elif isinstance(event, State):
            self.mode, self.reset, self.tick, self.edges = event.mode, event.reset, event.tick, event.edges
            self.why = sentence(event.why) if event.mode in ("rest", "waiting") else ""
        elif isinstance(event, ResetDone):
            self.reset, self.tick, self.edges = event.reset, 0, event.edges
            self.ticks.clear()
        elif isinstance(event, Half):
            self._before, self._probes = event.early, event.probes
            self.tick = event.tick
        elif isinstance(event, Status):
            self._probes, self.rate = int(event.fields["probes"]), str(event.fields["rate"])
        else:
            self._say(event)

    def _tick(self, tick: Tick) -> None:
        self.ticks.append(tick)
        if (tick.reset, tick.tick) > (self.reset, self.tick):
            # Until the next report says how many there are.
            self.edges += 1
        self.reset, self.tick = tick.reset, tick.tick
        self._before, self._probes = tick.early, tick.late

    def _say(self, event: Event) -> None:
        if isinstance(event, Answer) and event.kind == "refused":
            self.message = f"refused: {sentence(event.why)}"
        elif isinstance(event, Answer) and event.kind == "failed" and event.why != reasons.HALTED:
            self.message = f"stopped at tick {event.tick}: {sentence(event.why)}"
        elif isinstance(event, Notice):
            self.message = f"{sentence(event.what)} (so far: {event.count})"
        elif isinstance(event, Gap):
            self.message = f"ticks {event.first} to {event.last} have no samples"
