"""Counts what differs between repeats of one run: which line, at which tick, how often, and what with it."""

from __future__ import annotations

import functools
from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handtick.compare.trace import line_names, packed
from handtick.events import Tick
from handtick.log.spans import Span
from handtick.wiring import Wiring


@dataclass(frozen=True, slots=True)
class Wobble:
    """A line that differed at a tick.

    Attributes:
        tick, line: where.
        when: "early" or "late" sample.
        often: in how many of the repeats it was not what it mostly was.
        also: the lines that differed at the same tick in the same repeats.
    """

    tick: int
    line: str
    when: str
    often: int
    also: tuple[str, ...]


_WHEN = ("early", "late")

# A tick, and one of those two.
_Place = tuple[int, str]


class Wobbles:
    """Takes one repeat after another, and keeps one of them and what differs from it.

    Args:
        wiring: names the lines.
    """

    def __init__(self, wiring: Wiring) -> None:
        self.repeats = 0
        self._lines = line_names(wiring)
        self._bits = functools.partial(packed, wiring)
        # Of each tick the samples that the first repeat had that had it.
        self._first: dict[int, tuple[int, int]] = {}
        # Of each place what those repeats had there that had something else.
        self._odd: dict[_Place, dict[int, int]] = {}
        # Of each repeat, the spans of ticks that came.
        self._came: list[list[Span]] = []

    def take(self, ticks: Iterable[Tick]) -> None:
        """Takes the ticks of a repeat, in order and numbered alike; one that stopped early has fewer."""
        self.repeats += 1
        came: list[Span] = []
        for tick in ticks:
            number = tick.tick
            begun = came.pop()[0] if came and came[-1][1] == number - 1 else number
            came.append((begun, number))
            samples = (tick.early, tick.late)
            first = self._first.setdefault(number, samples)
            if samples != first:
                for when, sample, other in zip(_WHEN, samples, first, strict=True):
                    if self._bits(sample) != self._bits(other):
                        self._odd.setdefault((number, when), {})[self.repeats] = self._bits(sample)
        self._came.append(came)

    def found(self) -> list[Wobble]:
        """Every line and tick that ever differed, in order of ticks; at one tick the lines that differ most first."""
        return [
            wobble for place in sorted(self._odd) for wobble in self._at(*place, list(self._values(place).values()))
        ]

    def first_of(self) -> list[Wobble]:
        """Where each bad repeat first went another way; what came of that later is left out."""
        began: dict[_Place, list[int]] = {}
        mostly: dict[_Place, int] = {}
        strayed: set[int] = set()
        for place in sorted(self._odd):
            values = self._values(place)
            mostly[place] = Counter(values.values()).most_common(1)[0][0]
            odd = {repeat: value for repeat, value in values.items() if value != mostly[place]}
            new = [value for repeat, value in odd.items() if repeat not in strayed]
            if new:
                began[place] = new
            strayed.update(odd)
        return [
            wobble
            for place, values in began.items()
            for wobble in self._at(*place, [mostly[place]] * (len(values) + 1) + values)
        ]

    def _values(self, place: _Place) -> dict[int, int]:
        """What each repeat that came so far had at a place where some differ."""
        tick, when = place
        odd, first = self._odd[place], self._bits(self._first[tick][_WHEN.index(when)])
        return {
            repeat: odd.get(repeat, first)
            for repeat, came in enumerate(self._came, 1)
            if any(begun <= tick <= last for begun, last in came)
        }

    def _at(self, tick: int, when: str, values: Sequence[int]) -> list[Wobble]:
        mostly = Counter(values).most_common(1)[0][0]
        odd = [value ^ mostly for value in values]
        found = []
        for bit, line in enumerate(self._lines):
            hit = [difference for difference in odd if difference >> bit & 1]
            if hit:
                together = 0
                for difference in hit:
                    together |= difference
                also = tuple(name for other, name in enumerate(self._lines) if other != bit and together >> other & 1)
                found.append(Wobble(tick, line, when, len(hit), also))
        return sorted(found, key=lambda wobble: -wobble.often)
