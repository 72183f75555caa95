"""Traces made ready to be compared: a row of bits a tick, with those that count."""

from __future__ import annotations

import functools
from collections.abc import Iterable
from dataclasses import dataclass
from typing import NamedTuple

from handtick import events, log
from handtick.wiring import Wiring


class Row(NamedTuple):
    """One tick.

    Attributes:
        tick: its number.
        bits: all lines, bit k is line k of the trace.
        care: which of them count; the others may be anything.
    """

    tick: int
    bits: int
    care: int


@dataclass(frozen=True)
class Trace:
    """Consecutive ticks.

    Attributes:
        lines: what each bit is called, such as ``data[3]`` or ``fetch``.
        rows: the ticks, in order.
    """

    lines: tuple[str, ...]
    rows: tuple[Row, ...]

    @property
    def width(self) -> int:
        """How many lines there are."""
        return len(self.lines)


def line_names(wiring: Wiring) -> tuple[str, ...]:
    """What the bits of a wiring's buses are called, bus after bus, lowest bit first."""
    names: list[str] = []
    for bus in wiring.shown:
        names += [bus.name] if bus.width == 1 else [f"{bus.name}[{bit}]" for bit in range(bus.width)]
    return tuple(names)


def packed(wiring: Wiring, sample: int) -> int:
    """A sample's buses side by side, in the order of ``line_names``."""
    bits, at = 0, 0
    for bus in wiring.shown:
        bits |= bus.value(sample) << at
        at += bus.width
    return bits


def trace_of(ticks: Iterable[events.Tick | log.Tick], wiring: Wiring, late: bool = False) -> Trace:
    """Ticks of a session or a log as a trace of their early samples, which is what each tick captured, or late ones."""
    return sampled(((tick.tick, tick.late if late else tick.early) for tick in ticks), wiring)


def sampled(samples: Iterable[tuple[int, int | None]], wiring: Wiring) -> Trace:
    """Tick numbers, each with its sample or None, as a trace."""
    lines = line_names(wiring)
    whole = (1 << len(lines)) - 1
    # A machine has few states beside its many ticks.
    bits = functools.cache(functools.partial(packed, wiring))
    rows = (Row(tick, 0, 0) if sample is None else Row(tick, bits(sample), whole) for tick, sample in samples)
    return Trace(lines, tuple(rows))
