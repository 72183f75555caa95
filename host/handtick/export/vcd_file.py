"""VCD (IEEE 1364): the clock line and every bus over time, for whatever program draws it.

A log knows when each active edge was made, and what the lines held just before each of the two edges. Between those
moments nobody looked. So a bus changes to a tick's late value a nanosecond after the active edge, and to the next
tick's early value, where that differs, in the middle of the phase before it. The other edge is drawn half-way to the
next active one; after the last tick, and before a gap, at most a millisecond after it. In a gap, and across a reset,
all is unknown.
"""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from typing import Any, TextIO

from handtick.log import Tick
from handtick.wiring import Bus, Wiring

_LAST_HIGH_NS = 1_000_000
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
        count = 0
        end_ns = 0
        for tick in ticks:
            if before is not None and tick.boot != before.boot:
                continue
            at_ns = tick.time_us * 1000
            if before is None:
                self._hold(max(0, at_ns - 1000), tick.early)
                self._writer.change(self._clock, max(0, at_ns - 1000), 0)
            else:
                self._between(before, tick, at_ns)
            self._writer.change(self._clock, at_ns, 1)
            self._hold(at_ns + 1, tick.late)
            before, count, end_ns = tick, count + 1, at_ns + _LAST_HIGH_NS
        if before is not None:
            self._writer.change(self._clock, end_ns, 0)
            # A last stretch in which nothing changes is a stretch all the same.
            self._writer.close(end_ns + _LAST_HIGH_NS)
        return count

    def _between(self, before: Tick, tick: Tick, at_ns: int) -> None:
        """From one active edge to the next."""
        edge_ns = before.time_us * 1000
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


def _unknown(bus: Bus) -> str:
    return "x" * bus.width if bus.width > 1 else "x"


def _name(name: str) -> str:
    """A name as VCD can have it: without spaces."""
    return "_".join(name.split())
