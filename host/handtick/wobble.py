"""Counts what differs between repeats of one run: which line, at which tick, how often, and what with it."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from handtick.compare.trace import line_names, packed
from handtick.events import Tick
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


class Wobbles:
    """Takes one repeat after another.

    Args:
        wiring: names the lines.
    """

    def __init__(self, wiring: Wiring) -> None:
        self.repeats = 0
        self._wiring = wiring
        self._lines = line_names(wiring)
        # Of each place what each repeat that came so far had there.
        self._seen: dict[tuple[int, str], dict[int, int]] = {}

    def take(self, ticks: Iterable[Tick]) -> None:
        """Takes the ticks of a repeat, numbered alike; one that stopped early has fewer."""
        self.repeats += 1
        for tick in ticks:
            for when, sample in (("early", tick.early), ("late", tick.late)):
                self._seen.setdefault((tick.tick, when), {})[self.repeats] = packed(self._wiring, sample)

    def found(self) -> list[Wobble]:
        """Every line and tick that ever differed, in order of ticks; at one tick the lines that differ most first."""
        wobbles: list[Wobble] = []
        for (tick, when), values in sorted(self._seen.items()):
            if len(set(values.values())) > 1:
                wobbles += self._at(tick, when, list(values.values()))
        return wobbles

    def first_of(self) -> list[Wobble]:
        """Where each bad repeat first went another way; what came of that later is left out."""
        order = sorted(self._seen)
        mostly = {place: Counter(values.values()).most_common(1)[0][0] for place, values in self._seen.items()}
        began: dict[tuple[int, str], list[int]] = {}
        for repeat in range(1, self.repeats + 1):
            for place in order:
                value = self._seen[place].get(repeat, mostly[place])
                if value != mostly[place]:
                    began.setdefault(place, []).append(value)
                    break
        return [
            wobble
            for place in sorted(began)
            for wobble in self._at(*place, [mostly[place]] * (len(began[place]) + 1) + began[place])
        ]

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
