"""Watches every run for what should never be: late movers, lines that move in the wrong phase, two drivers on a bus."""

from collections.abc import Iterator
from typing import NamedTuple

from handtick.events import Event, ResetDone, Tick
from handtick.wiring import Bus, Wiring
from handtick_wire.messages import FLAG_IN_RESET, FLAG_UNSETTLED


class Sight(NamedTuple):
    """Something seen: what, on which bus or line, first at which tick, and at how many."""

    what: str
    line: str
    tick: int
    times: int

    def text(self) -> str:
        """In words."""
        more = f", and at {self.times - 1} more ticks" if self.times > 1 else ""
        return f"{self.line} {_WORDS[self.what]} at tick {self.tick}{more}"


_WORDS = {
    "late": "moved late, after the sample before the falling edge,",
    "high": "moved while the clock is high, where the wiring file says it must not,",
    "low": "moved while the clock is low, where the wiring file says it must not,",
    "drivers": "was driven twice, by two enables at once,",
}


class Watch:
    """Takes the events of a session; a machine that is all right gives no sights.

    Args:
        wiring: the names; its buses may say in which phase they must be steady, and who drives them.
    """

    def __init__(self, wiring: Wiring) -> None:
        self._wiring = wiring
        self._before: Tick | None = None
        self._seen: dict[tuple[str, str], tuple[int, int]] = {}

    def take(self, event: Event) -> None:
        """Takes an event."""
        if isinstance(event, ResetDone):
            self._before = None
        elif isinstance(event, Tick) and not event.flags & (FLAG_IN_RESET | FLAG_UNSETTLED):
            for what, line in self._wrong(event):
                first, times = self._seen.get((what, line), (event.tick, 0))
                self._seen[what, line] = first, times + 1
            self._before = event

    def sights(self) -> list[Sight]:
        """What was seen, in order of the tick where it was first."""
        found = [Sight(what, line, first, times) for (what, line), (first, times) in self._seen.items()]
        return sorted(found, key=lambda sight: sight.tick)

    def _wrong(self, tick: Tick) -> Iterator[tuple[str, str]]:
        before = self._before
        follows = before is not None and (before.reset, before.tick + 1) == (tick.reset, tick.tick)
        for bus in self._wiring.shown:
            if follows and before is not None and bus.value(before.late) != bus.value(tick.early):
                yield ("low" if bus.steady == "low" else "late"), bus.name
            if bus.steady == "high" and bus.value(tick.early) != bus.value(tick.late):
                yield "high", bus.name
            if bus.drivers and any(self._driving(bus, sample) > 1 for sample in (tick.early, tick.late)):
                yield "drivers", bus.name

    def _driving(self, bus: Bus, sample: int) -> int:
        """How many enables of a bus are asserted."""
        return sum(self._wiring.bus(name).value(sample) for name in bus.drivers)
