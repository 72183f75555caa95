"""The first difference between two traces, and every explanation out of a closed list that fits all of the data.

An explanation fits if it turns the expectation into exactly what was seen, wherever both count. Several may fit; then
all of them are given, and more ticks will tell them apart. A fault of the machine's lines soon sends it another way:
where nothing fits to the end, faults of lines that fit up to the first difference are given as possible.

Ticks are taken as they come and not kept: all explanations are held, and given up one by one where they do not fit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass

from handtick.compare.line_faults import Kind, LineFaults
from handtick.compare.samples import differing, paired, parted
from handtick.compare.slips import MOST_SLIP, Slips
from handtick.compare.trace import Lines, Row, Trace, side_by_side

# Of how many pairs of samples it is known that they were met.
_MOST_PAIRS = 1 << 16


@dataclass(frozen=True, slots=True)
class Finding:
    """What a comparison found.

    Attributes:
        tick: the first tick that differs; None where nothing does.
        lines: the lines that differ there.
        expected, seen: all lines at that tick.
        compared: how many ticks were compared: those of which both sides say something of the same line.
        differing: how many of them differ.
        explanations: everything that fits, in words; where nothing does, what is possible, which begins with
            "possible"; where nothing is, "none of the usual faults fits".
    """

    tick: int | None
    lines: tuple[str, ...]
    expected: int
    seen: int
    compared: int
    differing: int
    explanations: tuple[str, ...]


def diagnose(expected: Trace, seen: Trace, starts: Callable[[Row], bool] | None = None) -> Finding:
    """Compares two traces tick by tick, from the first to the last tick that both have.

    Args:
        expected: what should have been.
        seen: what was.
        starts: whether an instruction starts at a row; None where nobody knows.

    Raises:
        ValueError: the two do not have the same lines.
    """
    if expected.lines != seen.lines:
        raise ValueError("the traces have different lines")
    diagnosis = Diagnosis(expected.lines, starts)
    diagnosis.take(side_by_side(expected.rows, seen.rows))
    return diagnosis.finding()


@dataclass(frozen=True, slots=True)
class _First:
    """The first difference: its place among the ticks compared, its rows, and the line faults that fit up to it."""

    place: int
    want: Row
    got: Row
    possible: tuple[str, ...]


class Diagnosis:
    """Compares ticks as they come, however many, in the order of their numbers.

    Args:
        lines: what the bits of all rows are called.
        starts: whether an instruction starts at a row; None where nobody knows.

    Attributes:
        compared: how many ticks were compared so far.
    """

    def __init__(self, lines: Sequence[str], starts: Callable[[Row], bool] | None = None) -> None:
        self._lines = lines
        self._starts = starts
        self.compared = self._differing = 0
        self._first: _First | None = None
        self._faults = LineFaults(lines)
        self._slips = Slips()
        self._met: set[int] = set()

    @property
    def tick(self) -> int | None:
        """The first tick that differs; None where nothing does so far."""
        return None if self._first is None else self._first.want.tick

    def take(self, rows: Iterable[tuple[Row | None, Row | None]]) -> None:
        """Takes ticks: what was expected and what was seen of each, or None on a side that does not have it."""
        for want, got in rows:
            if want is not None and got is not None:
                self.compared += bool(want.care & got.care)
                kind = Kind(want.bits, want.care, got.bits, got.care)
                self._faults.meet(kind)
                if kind.differs:
                    self._differing += 1
                    self._look_at_first(want, got)
            self._slips.take(want, got)

    def take_samples(self, lines: Lines, first: int, expected: bytes, seen: bytes) -> None:
        """Takes ticks in a row, from the tick ``first`` on, of which both sides have samples of at most 16 bits.

        Args:
            lines: what makes rows of samples.
            first: the first tick.
            expected, seen: two bytes a tick, the lower first.
        """
        ticks = len(expected) // 2
        count = differing(expected, seen, lines.probes)
        if ticks < MOST_SLIP or (count and self._first is None):
            # Around the first difference the order of ticks matters.
            self.take(lines.both(first, expected, seen))
            return
        self.compared += ticks
        self._differing += count
        self._slips.take_samples(lines, first, expected, seen)
        if self._faults:
            self._meet_pairs(lines, paired(expected, seen))

    def _meet_pairs(self, lines: Lines, pairs: Sequence[int]) -> None:
        if self._met.issuperset(pairs):
            return
        new = set(pairs) - self._met
        for pair in new:
            want, got = (lines.row(0, sample) for sample in parted(pair))
            self._faults.meet(Kind(want.bits, want.care, got.bits, got.care))
        if len(self._met) > _MOST_PAIRS:
            self._met.clear()
        self._met |= new

    def _look_at_first(self, want: Row, got: Row) -> None:
        if self._first is None:
            self._first = _First(self.compared, want, got, self._faults.words)
            self._slips.begin(want.tick)

    def finding(self) -> Finding:
        """What was found in the ticks taken so far."""
        if self._first is None:
            return Finding(None, (), 0, 0, self.compared, 0, ())
        want, got = self._first.want, self._first.got
        bits = (want.bits ^ got.bits) & want.care & got.care
        lines = tuple(name for bit, name in enumerate(self._lines) if bits >> bit & 1)
        found = tuple(self._explanations(self._first))
        if not found:
            found = tuple(f"possible, as it fits up to the first difference: {each}" for each in self._first.possible)
        none = ("none of the usual faults fits",)
        return Finding(want.tick, lines, want.bits, got.bits, self.compared, self._differing, found or none)

    def _explanations(self, first: _First) -> Iterator[str]:
        if self._differing == 1 and first.place < self.compared:
            # Wrong once and right again; of the last tick nobody knows.
            yield f"one wrong value, at tick {first.want.tick} alone"
        yield from self._faults.words
        yield from self._slips.words
        if first.place == 1:
            yield "a different start: the very first tick compared differs"
        elif self._starts is not None and self._starts(first.want) and self._starts(first.got):
            yield f"a different program path from tick {first.want.tick} on: another instruction begins there"
