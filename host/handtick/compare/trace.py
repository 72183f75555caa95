"""Traces made ready to be compared: a row of bits a tick, with those that count."""

from __future__ import annotations

import functools
import itertools
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import NamedTuple

from handtick import events
from handtick.compare.samples import unpacked
from handtick.wiring import Wiring

# Of how many states of the machine the lines are kept.
_STATES = 1 << 14


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


class Lines:
    """The lines of a wiring, for many samples.

    Attributes:
        names: what they are called, as ``line_names`` gives them.
        probes: a set bit for each probe that is one of them.
    """

    def __init__(self, wiring: Wiring) -> None:
        self.names = line_names(wiring)
        self.probes = sum({1 << probe for bus in wiring.shown for probe in bus.probes})
        self._whole = (1 << len(self.names)) - 1
        # A machine has few states beside its many ticks.
        self._bits = functools.lru_cache(_STATES)(functools.partial(packed, wiring))

    def row(self, tick: int, sample: int | None) -> Row:
        """A tick with its sample; where none was taken, anything may be."""
        return Row(tick, 0, 0) if sample is None else Row(tick, self._bits(sample), self._whole)

    def rows(self, samples: Iterable[tuple[int, int | None]]) -> Iterator[Row]:
        """Tick numbers, each with its sample or None, as rows."""
        return itertools.starmap(self.row, samples)

    def both(self, first: int, expected: bytes, seen: bytes) -> Iterator[tuple[Row, Row]]:
        """Samples of ticks in a row, as ``compare.samples`` has them, tick by tick, from the tick ``first`` on."""
        for tick, (want, got) in enumerate(zip(unpacked(expected), unpacked(seen), strict=True), first):
            yield self.row(tick, want), self.row(tick, got)


def trace_of(ticks: Iterable[events.Tick], wiring: Wiring, late: bool = False) -> Trace:
    """Ticks as a trace of their early samples, which is what each tick captured, or late ones."""
    lines = Lines(wiring)
    return Trace(lines.names, tuple(lines.row(tick.tick, tick.late if late else tick.early) for tick in ticks))


def side_by_side(expected: Iterable[Row], seen: Iterable[Row]) -> Iterator[tuple[Row | None, Row | None]]:
    """The rows of two traces in the order of ticks, those of the same tick together; None where one has none."""
    wants, gots = iter(expected), iter(seen)
    want, got = next(wants, None), next(gots, None)
    while want is not None or got is not None:
        if got is None or (want is not None and want.tick < got.tick):
            yield want, None
            want = next(wants, None)
        elif want is None or got.tick < want.tick:
            yield None, got
            got = next(gots, None)
        else:
            yield want, got
            want, got = next(wants, None), next(gots, None)
