"""VCD (IEEE 1364): the clock line and every bus over time, for whatever program draws it.

A log knows when each active edge was made, and what the lines held just before each of the two edges. Between those
moments nobody looked. So a bus changes to a tick's late value a nanosecond after the active edge, and to the next
tick's early value, where that differs, in the middle of the phase before it. The other edge is drawn half-way to the
next active one; after the last tick, and before a gap, at most a millisecond after it. In a gap, and across a reset,
all is unknown.

A log's times are whole microseconds, and a clock may be faster than that: ticks of one microsecond are spread evenly
over it. Where times go back, as only a damaged log's do, edges go on in the ticks' order, as close as can be drawn.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from typing import Any, TextIO

from handtick.log import Tick
from handtick.wiring import Bus, Wiring

_LAST_HIGH_NS = 1_000_000
# As close as active edges are drawn: with room between them, in whole nanoseconds, for all that a gap has.
_CLOSEST_NS = 8
# So many ticks of one microsecond are spread together: the fastest clock there is has no more.
_AT_ONCE = 100
_SCOPE = "machine"


def write_vcd(ticks: Iterable[Tick], wiring: Wiring, file: TextIO, began: datetime | None = None) -> int:
    """Writes ticks of one boot as VCD.

    Args:
        ticks: ticks in order; those of another boot than the first's are left out, as their times have another zero.
        wiring: names the signals.
        file: open for text.
        began: when the log began, for the file's date; None for none.

    Returns:
        How many ticks were written.
    """
    from vcd import VCDWriter

    date = "" if began is None else began.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S UTC")
    with VCDWriter(file, timescale="1 ns", date=date, comment="written by handtick") as writer:
        return _Sheet(writer, wiring).write(ticks)


class _Sheet:
    def __init__(self, writer: Any, wiring: Wiring) -> None:
        self._writer = writer
        self._clock = writer.register_var(_SCOPE, "clock", "wire", size=1, init="x")
        self._signals: list[Any] = [
            writer.register_var(_SCOPE, _name(bus.name), "wire", size=bus.width, init=_unknown(bus))
            for bus in wiring.shown
        ]
        self._unknown = tuple(_unknown(bus) for bus in wiring.shown)
        self._read = wiring.reader()
        self._held: tuple[int | str, ...] = self._unknown

    def write(self, ticks: Iterable[Tick]) -> int:
        """Writes all; returns how many ticks."""
        before: Tick | None = None
        count = edge_ns = 0
        for tick, at_ns in _placed(_of_one_boot(ticks)):
            if before is None:
                self._hold(max(0, at_ns - 1000), tick.early)
                self._writer.change(self._clock, max(0, at_ns - 1000), 0)
            else:
                self._between(before, tick, edge_ns, at_ns)
            self._writer.change(self._clock, at_ns, 1)
            self._hold(at_ns + 1, tick.late)
            before, count, edge_ns = tick, count + 1, at_ns
        if before is not None:
            end_ns = edge_ns + _LAST_HIGH_NS
            self._writer.change(self._clock, end_ns, 0)
            # A last stretch in which nothing changes is a stretch all the same.
            self._writer.close(end_ns + _LAST_HIGH_NS)
        return count

    def _between(self, before: Tick, tick: Tick, edge_ns: int, at_ns: int) -> None:
        """From one active edge to the next."""
        room_ns = at_ns - edge_ns
        # Across a reset nobody looked at the lines either.
        if (before.reset, before.tick + 1) == (tick.reset, tick.tick):
            self._writer.change(self._clock, edge_ns + room_ns // 2, 0)
            self._hold(edge_ns + room_ns * 3 // 4, tick.early)
            return
        fall_ns = edge_ns + min(_LAST_HIGH_NS, room_ns // 4)
        self._writer.change(self._clock, fall_ns, 0)
        self._hold(edge_ns + room_ns // 2, None)
        self._writer.change(self._clock, edge_ns + room_ns // 2, "x")
        self._hold(edge_ns + room_ns * 3 // 4, tick.early)
        self._writer.change(self._clock, edge_ns + room_ns * 3 // 4, 0)

    def _hold(self, at_ns: int, sample: int | None) -> None:
        values = self._unknown if sample is None else self._read(sample)
        if values == self._held:
            return
        for signal, value, before in zip(self._signals, values, self._held, strict=True):
            if value != before:
                self._writer.change(signal, at_ns, value)
        self._held = values


def _of_one_boot(ticks: Iterable[Tick]) -> Iterator[Tick]:
    boot = None
    for tick in ticks:
        boot = tick.boot if boot is None else boot
        if tick.boot == boot:
            yield tick


def _placed(ticks: Iterable[Tick]) -> Iterator[tuple[Tick, int]]:
    """Each tick with where its active edge is drawn, in nanoseconds that only go up."""
    at_ns = 0
    for time_us, same in itertools.groupby(ticks, lambda tick: tick.time_us):
        while some := list(itertools.islice(same, _AT_ONCE)):
            for place, tick in enumerate(some):
                at_ns = max(time_us * 1000 + place * 1000 // len(some), at_ns + _CLOSEST_NS)
                yield tick, at_ns


def _unknown(bus: Bus) -> str:
    return "x" * bus.width if bus.width > 1 else "x"


def _name(name: str) -> str:
    """A name as VCD can have it: without spaces."""
    return "_".join(name.split())
