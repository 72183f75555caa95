"""The first difference between two traces, and every explanation out of a closed list that fits all of the data.

An explanation fits if it turns the expectation into exactly what was seen, wherever both count. Several may fit; then
all of them are given, and more ticks will tell them apart. A fault of the machine's lines soon sends it another way:
where nothing fits to the end, faults of lines that fit up to the first difference are given as possible.
"""

from __future__ import annotations

import functools
import itertools
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from handtick.compare.trace import Row, Trace

MOST_SLIP = 8

# A pair of rows to be compared: what was expected and what was seen.
_Pair = tuple[Row, Row]
# The same without the tick: bits and care expected, bits and care seen. A run of many ticks has few of them.
_Kind = tuple[int, int, int, int]


@dataclass(frozen=True, slots=True)
class Finding:
    """What a comparison found.

    Attributes:
        tick: the first tick that differs; None where nothing does.
        lines: the lines that differ there.
        expected, seen: all lines at that tick.
        compared: how many ticks were compared.
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
    by_tick = {row.tick: row for row in seen.rows}
    pairs = [(row, by_tick[row.tick]) for row in expected.rows if row.tick in by_tick]
    kinds = [(want.bits, want.care, got.bits, got.care) for want, got in pairs]
    bad = {kind for kind in set(kinds) if _differs(*kind)}
    wrong = [place for place, kind in enumerate(kinds) if kind in bad] if bad else []
    if not wrong:
        return Finding(None, (), 0, 0, len(pairs), 0, ())
    first = wrong[0]
    want, got = pairs[first]
    bits = (want.bits ^ got.bits) & want.care & got.care
    lines = tuple(name for bit, name in enumerate(expected.lines) if bits >> bit & 1)
    found = tuple(_explanations(expected, seen, pairs, set(kinds), wrong, starts))
    if not found:
        to_there = _line_faults(expected.lines, set(kinds[: first + 1]))
        found = tuple(f"possible, as it fits up to the first difference: {each}" for each in to_there)
    none = ("none of the usual faults fits",)
    return Finding(want.tick, lines, want.bits, got.bits, len(pairs), len(wrong), found or none)


def _explanations(
    expected: Trace,
    seen: Trace,
    pairs: list[_Pair],
    kinds: set[_Kind],
    wrong: list[int],
    starts: Callable[[Row], bool] | None,
) -> Iterator[str]:
    if len(wrong) == 1 and wrong[0] < len(pairs) - 1:
        # Wrong once and right again; of the last tick nobody knows.
        yield f"one wrong value, at tick {pairs[wrong[0]][0].tick} alone"
    yield from _line_faults(expected.lines, kinds)
    yield from _slips(expected, seen, pairs[wrong[0]][0].tick)
    want, got = pairs[wrong[0]]
    if wrong[0] == 0:
        yield "a different start: the very first tick compared differs"
    elif starts is not None and starts(want) and starts(got):
        yield f"a different program path from tick {want.tick} on: another instruction begins there"


def _line_faults(names: tuple[str, ...], kinds: set[_Kind]) -> Iterator[str]:
    for bit, level in itertools.product(range(len(names)), (0, 1)):
        if _fits(kinds, functools.partial(_stuck, bit, level)):
            yield f"{names[bit]} is stuck at {level}"
    for bit in range(len(names)):
        if _fits(kinds, functools.partial(_inverted, bit)):
            yield f"{names[bit]} is inverted"
    for one, other in itertools.combinations(range(len(names)), 2):
        if _fits(kinds, functools.partial(_swapped, one, other)):
            yield f"{names[one]} and {names[other]} are swapped"
        for level in (0, 1):
            if _fits(kinds, functools.partial(_joined, one, other, level)):
                yield f"{names[one]} and {names[other]} are joined: either at {level} takes both to {level}"


# What a fault of the lines makes of the bits and care that were expected.


def _stuck(bit: int, level: int, bits: int, care: int) -> tuple[int, int]:
    return bits & ~(1 << bit) | level << bit, care | 1 << bit


def _inverted(bit: int, bits: int, care: int) -> tuple[int, int]:
    return bits ^ 1 << bit, care


def _swapped(one: int, other: int, bits: int, care: int) -> tuple[int, int]:
    return _exchanged(bits, one, other), _exchanged(care, one, other)


def _exchanged(bits: int, one: int, other: int) -> int:
    rest = bits & ~(1 << one | 1 << other)
    return rest | (bits >> one & 1) << other | (bits >> other & 1) << one


def _joined(one: int, other: int, level: int, bits: int, care: int) -> tuple[int, int]:
    """Either line at the level takes both there; known where both lines are, or where one is known to be at it."""
    levels = [bits >> line & 1 for line in (one, other)]
    known = [care >> line & 1 for line in (one, other)]
    decided = any(know and each == level for know, each in zip(known, levels, strict=True))
    both = level if decided else 1 - level
    mask = 1 << one | 1 << other
    cared = care | mask if decided or all(known) else care & ~mask
    return bits & ~mask | (mask if both else 0), cared


def _slips(expected: Trace, seen: Trace, tick: int) -> Iterator[str]:
    """From the first difference on, one trace is the other moved by whole ticks."""
    by_tick = {row.tick: row for row in expected.rows}
    after = [row for row in seen.rows if row.tick >= tick]
    for slip in (*range(1, MOST_SLIP + 1), *range(-1, -MOST_SLIP - 1, -1)):
        moved = ((by_tick[row.tick + slip], row) for row in after if row.tick + slip in by_tick)
        # A slip that is told from the one tick that differs would fit almost anything.
        first = list(itertools.islice(moved, 2))
        if len(first) == 2 and not any(_differs(*want[1:], *got[1:]) for want, got in itertools.chain(first, moved)):
            clocks = f"{abs(slip)} {'extra' if slip > 0 else 'missing'} clock{'s' if abs(slip) > 1 else ''}"
            yield f"a slip: from tick {tick} on it is the expectation moved by {slip:+d}; {clocks} suspected"


def _fits(kinds: set[_Kind], turn: Callable[[int, int], tuple[int, int]]) -> bool:
    """Whether a change to what was expected gives what was seen, at every tick."""
    return not any(_differs(*turn(bits, care), seen, known) for bits, care, seen, known in kinds)


def _differs(bits: int, care: int, seen: int, known: int) -> bool:
    return bool((bits ^ seen) & care & known)
