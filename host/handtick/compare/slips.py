"""Slips: whether, from a tick on, what was seen is what was expected moved by whole ticks."""

from __future__ import annotations

from collections.abc import Iterator

from handtick.compare.samples import same
from handtick.compare.trace import Lines, Row

MOST_SLIP = 8

# Rows looked back at: as many as the largest slip, and the present one.
_KEPT = MOST_SLIP + 1


class Slips:
    """The slips of up to eight ticks that nothing contradicts so far; looked for from ``begin`` on."""

    def __init__(self) -> None:
        # Of each slip, how many ticks agree.
        self._agreed: dict[int, int] = {}
        self._begun: int | None = None
        # The latest rows, each at its tick modulo their number.
        self._expected: list[Row | None] = [None] * _KEPT
        self._seen: list[Row | None] = [None] * _KEPT

    def begin(self, tick: int) -> None:
        """From this tick on, which comes next, what is seen may be moved."""
        self._begun = tick
        self._agreed = dict.fromkeys((*range(1, MOST_SLIP + 1), *range(-1, -MOST_SLIP - 1, -1)), 0)

    def take(self, want: Row | None, got: Row | None) -> None:
        """Takes the rows of a tick, in the order of ticks; None where a side has none."""
        if self._begun is not None and not self._agreed:
            return
        tick = self._keep(want, got)
        for slip in tuple(self._agreed):
            # Whichever of the two comes later is this tick's.
            one = _at(self._expected, tick + min(slip, 0))
            other = _at(self._seen, tick - max(slip, 0))
            if one is not None and other is not None:
                self._judge(slip, 1, not (one.bits ^ other.bits) & one.care & other.care)

    def take_samples(self, lines: Lines, first: int, expected: bytes, seen: bytes) -> None:
        """Takes samples of ticks in a row, at least ``MOST_SLIP`` of them, from the tick ``first`` on."""
        ticks = len(expected) // 2
        if self._agreed:
            # The first of them meet rows from before; all others are in here together with what they meet.
            for want, got in lines.both(first, expected[: 2 * MOST_SLIP], seen[: 2 * MOST_SLIP]):
                self.take(want, got)
            for slip in tuple(self._agreed):
                ahead, behind = max(slip, 0), min(slip, 0)
                one = expected[2 * (MOST_SLIP + behind) : 2 * (ticks + behind)]
                other = seen[2 * (MOST_SLIP - ahead) : 2 * (ticks - ahead)]
                self._judge(slip, ticks - MOST_SLIP, same(one, other, lines.probes))
        last = -2 * MOST_SLIP
        for want, got in lines.both(first + ticks - MOST_SLIP, expected[last:], seen[last:]):
            self._keep(want, got)

    @property
    def words(self) -> Iterator[str]:
        """Those that fit, in words."""
        for slip, agreed in self._agreed.items():
            # A slip that is told from the one tick that differs would fit almost anything.
            if agreed >= 2:
                clocks = f"{abs(slip)} {'extra' if slip > 0 else 'missing'} clock{'s' if abs(slip) > 1 else ''}"
                moved = f"from tick {self._begun} on it is the expectation moved by {slip:+d}"
                yield f"a slip: {moved}; {clocks} suspected"

    def _judge(self, slip: int, ticks: int, agrees: bool) -> None:
        if agrees:
            self._agreed[slip] += ticks
        else:
            del self._agreed[slip]

    def _keep(self, want: Row | None, got: Row | None) -> int:
        """Keeps rows to be looked back at; gives their tick."""
        tick = 0
        if want is not None:
            tick = want.tick
            self._expected[tick % _KEPT] = want
        if got is not None:
            tick = got.tick
            # What was seen before counts for no slip.
            if self._begun is not None:
                self._seen[tick % _KEPT] = got
        return tick


def _at(rows: list[Row | None], tick: int) -> Row | None:
    row = rows[tick % _KEPT]
    return row if row is not None and row.tick == tick else None
