"""Comparing traces: the first difference and every explanation that fits, judged against a search that tries all."""

from __future__ import annotations

import itertools
import struct
import tracemalloc
from collections.abc import Callable

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.compare import Diagnosis, Row, Trace, diagnose
from handtick.compare.trace import Lines
from handtick.wiring import Bus, Wiring

Cell = int | None
Columns = dict[int, list[Cell]]


def trace(values: list[int], width: int = 4, first: int = 1, care: int | None = None) -> Trace:
    """A trace of one bus with these values, tick by tick."""
    names = tuple(f"bus[{bit}]" for bit in range(width))
    mask = (1 << width) - 1 if care is None else care
    return Trace(names, tuple(Row(first + place, value, mask) for place, value in enumerate(values)))


def cells(one: Trace) -> Columns:
    """The same as a table of levels by tick, None where anything may be."""
    width = one.width
    return {
        row.tick: [row.bits >> bit & 1 if row.care >> bit & 1 else None for bit in range(width)] for row in one.rows
    }


def agree(want: list[Cell], got: list[Cell]) -> bool:
    """Whether two ticks agree wherever both count."""
    return all(a is None or b is None or a == b for a, b in zip(want, got, strict=True))


def joined(one: Cell, other: Cell, level: int) -> Cell:
    """What two joined lines are."""
    if level in (one, other):
        return level
    return None if None in (one, other) else 1 - level


def other_way(level: Cell) -> Cell:
    """The other level."""
    return None if level is None else 1 - level


def said_by_both(want: Columns, got: Columns) -> list[int]:
    """The ticks of which both say something of the same line."""
    return [
        tick
        for tick in sorted(want.keys() & got.keys())
        if any(None not in pair for pair in zip(want[tick], got[tick], strict=True))
    ]


def by_search(expected: Trace, seen: Trace) -> set[str]:
    """Every explanation, found by changing the whole expectation in every way there is and looking."""
    want, got, names = cells(expected), cells(seen), expected.lines
    both = sorted(want.keys() & got.keys())
    wrong = [tick for tick in both if not agree(want[tick], got[tick])]
    if not wrong:
        return set()
    first = wrong[0]
    found = set()
    compared = said_by_both(want, got)
    if len(wrong) == 1 and first != compared[-1]:
        found.add(f"one wrong value, at tick {first} alone")
    if first == compared[0]:
        found.add("a different start: the very first tick compared differs")

    def fits(change: Callable[[list[Cell]], list[Cell]]) -> bool:
        return all(agree(change(want[tick]), got[tick]) for tick in both)

    width = len(names)
    for line in range(width):
        for level in (0, 1):
            if fits(lambda row: [level if bit == line else row[bit] for bit in range(width)]):  # noqa: B023
                found.add(f"{names[line]} is stuck at {level}")
        if fits(lambda row: [other_way(row[bit]) if bit == line else row[bit] for bit in range(width)]):  # noqa: B023
            found.add(f"{names[line]} is inverted")
    for one, other in itertools.combinations(range(width), 2):
        order = list(range(width))
        order[one], order[other] = other, one
        if fits(lambda row: [row[bit] for bit in order]):  # noqa: B023
            found.add(f"{names[one]} and {names[other]} are swapped")
        for level in (0, 1):

            def both_alike(row: list[Cell], pair: tuple[int, int] = (one, other), level: int = level) -> list[Cell]:
                levels = [row[bit] for bit in pair]
                return [joined(levels[0], levels[1], level) if bit in pair else row[bit] for bit in range(width)]

            if fits(both_alike):
                found.add(f"{names[one]} and {names[other]} are joined: either at {level} takes both to {level}")
    for slip in [*range(1, 9), *range(-8, 0)]:
        ticks = [tick for tick in got if tick >= first and tick + slip in want]
        if len(ticks) >= 2 and all(agree(want[tick + slip], got[tick]) for tick in ticks):
            kind = "extra" if slip > 0 else "missing"
            clocks = "clock" if abs(slip) == 1 else "clocks"
            moved = f"from tick {first} on it is the expectation moved by {slip:+d}"
            found.add(f"a slip: {moved}; {abs(slip)} {kind} {clocks} suspected")
    return found


def faulty(draw: st.DrawFn, values: list[int], width: int) -> list[int]:
    """What a machine with one of the faults, or none of them, would show."""
    kind = draw(st.sampled_from(["stuck", "inverted", "swapped", "joined", "slip", "one", "random"]))
    one, other = draw(st.permutations(range(width)))[:2]
    place = draw(st.integers(0, len(values) - 1))
    if kind == "stuck":
        level = draw(st.booleans())
        return [value | 1 << one if level else value & ~(1 << one) for value in values]
    if kind == "inverted":
        return [value ^ 1 << one for value in values]
    if kind == "swapped":
        rest = ~(1 << one | 1 << other)
        return [value & rest | (value >> one & 1) << other | (value >> other & 1) << one for value in values]
    if kind == "joined":
        mask = 1 << one | 1 << other
        return [value if value & mask == mask else value & ~mask for value in values]
    if kind == "slip":
        slip = draw(st.integers(-3, 3))
        return [
            value if at < place else values[min(max(at + slip, 0), len(values) - 1)] for at, value in enumerate(values)
        ]
    if kind == "one":
        return [value ^ (1 << one if at == place else 0) for at, value in enumerate(values)]
    return draw(st.lists(st.integers(0, (1 << width) - 1), min_size=len(values), max_size=len(values)))


@st.composite
def two_traces(draw: st.DrawFn) -> tuple[Trace, Trace]:
    """An expectation, some of it don't-care, and what a machine made of it."""
    width = draw(st.integers(2, 4))
    top = (1 << width) - 1
    values = draw(st.lists(st.integers(0, top), min_size=1, max_size=10))
    cares = draw(st.lists(st.sampled_from([top, top, top, 0, 1, top - 1]), min_size=len(values), max_size=len(values)))
    names = tuple(f"bus[{bit}]" for bit in range(width))
    rows = zip(values, cares, strict=True)
    expected = Trace(names, tuple(Row(at + 1, value, care) for at, (value, care) in enumerate(rows)))
    return expected, trace(faulty(draw, values, width), width)


@settings(max_examples=600)
@given(two_traces())
def test_explanations_are_exactly_those_that_fit(traces: tuple[Trace, Trace]) -> None:
    """Where one explanation fits the data it is the one given; where several fit, all are; where none does, none is."""
    expected, seen = traces
    finding = diagnose(expected, seen)
    fitting = by_search(expected, seen)
    if fitting:
        assert set(finding.explanations) == fitting
        assert len(finding.explanations) == len(fitting)
    else:
        assert all(each.startswith(("possible", "none of")) for each in finding.explanations)
    wrong = [a.tick for a, b in zip(expected.rows, seen.rows, strict=True) if (a.bits ^ b.bits) & a.care]
    assert finding.tick == (wrong[0] if wrong else None)
    assert finding.differing == len(wrong)


def some_of(draw: st.DrawFn, one: Trace) -> Trace:
    """A trace that lacks some ticks, and of which some bits do not count."""
    kept = draw(st.lists(st.booleans(), min_size=len(one.rows), max_size=len(one.rows)))
    cares = st.sampled_from([-1, -1, -1, -2, 0])
    return Trace(
        one.lines,
        tuple(row._replace(care=row.care & draw(cares)) for row, keep in zip(one.rows, kept, strict=True) if keep),
    )


@settings(max_examples=300)
@given(two_traces(), st.data())
def test_explanations_are_those_that_fit_where_ticks_are_missing(
    traces: tuple[Trace, Trace], data: st.DataObject
) -> None:
    """Where either side lacks ticks, or does not care, an explanation is given if it fits all that both have."""
    expected, seen = (data.draw(st.composite(some_of)(one)) for one in traces)
    finding = diagnose(expected, seen)
    fitting = by_search(expected, seen)
    assert finding.compared == len(said_by_both(cells(expected), cells(seen)))
    if fitting:
        assert sorted(finding.explanations) == sorted(fitting)
    else:
        assert all(each.startswith(("possible", "none of")) for each in finding.explanations)


@st.composite
def two_runs(draw: st.DrawFn) -> tuple[list[int], list[int]]:
    """The samples of a machine in a loop, and what one with a fault made of them."""
    values = draw(st.lists(st.integers(0, 15), min_size=1, max_size=12)) * draw(st.integers(1, 8))
    seen = faulty(draw, values, 4)
    return values, [value | draw(st.sampled_from([0, 0, 16])) for value in seen]


WIRING = Wiring((Bus("low", (1, 0)), Bus("high", (2, 3), inverted=True)))


@settings(max_examples=300)
@given(two_runs(), st.lists(st.tuples(st.integers(1, 40), st.booleans())))
def test_ticks_may_come_in_any_pieces(runs: tuple[list[int], list[int]], pieces: list[tuple[int, bool]]) -> None:
    """Ticks taken in pieces, as rows or as samples side by side, give what they give all at once."""
    lines = Lines(WIRING)
    first = 5
    rows = [[lines.row(tick, sample) for tick, sample in enumerate(run, first)] for run in runs]
    diagnosis = Diagnosis(lines.names)
    at = 0
    for length, as_samples in [*pieces, (len(rows[0]), False)]:
        part = slice(at, at + length)
        if as_samples and rows[0][part]:
            expected, seen = (struct.pack(f"<{len(run[part])}H", *run[part]) for run in runs)
            diagnosis.take_samples(lines, first + at, expected, seen)
        else:
            diagnosis.take(zip(rows[0][part], rows[1][part], strict=True))
        at += length
    whole = [Trace(lines.names, tuple(each)) for each in rows]
    assert diagnosis.finding() == diagnose(*whole)


def test_memory_is_bounded_whatever_a_machine_goes_through() -> None:
    """Sixty thousand ticks that are all different take no more memory than twenty thousand, and the cause is found."""
    names = tuple(f"data[{bit}]" for bit in range(20))
    peaks = []
    for ticks in (20_000, 60_000):
        tracemalloc.start()
        diagnosis = Diagnosis(names)
        diagnosis.take((Row(tick, tick, 0xFFFFF), Row(tick, tick | 1, 0xFFFFF)) for tick in range(1, ticks))
        peaks.append(tracemalloc.get_traced_memory()[1])
        tracemalloc.stop()
        assert diagnosis.finding().explanations == ("data[0] is stuck at 1",)
        assert diagnosis.finding().differing == (ticks - 1) // 2
    assert peaks[1] < 1.2 * peaks[0]


def test_one_extra_clock_is_a_slip_and_not_many_errors() -> None:
    """Expected 0 to 9, seen 0 to 3 and 5 to 10: the fifth tick is the first to differ, by one extra clock."""
    finding = diagnose(trace(list(range(10))), trace([0, 1, 2, 3, 5, 6, 7, 8, 9, 10]))
    assert (finding.tick, finding.expected, finding.seen) == (5, 4, 5)
    assert finding.explanations == (
        "a slip: from tick 5 on it is the expectation moved by +1; 1 extra clock suspected",
    )


def test_what_does_not_matter_never_counts() -> None:
    """Masked bits and don't-care ticks make no difference."""
    expected = trace([1, 2, 3, 4], care=0b0011)
    seen = trace([0b1101, 0b0110, 0b0111, 0b1000])
    assert diagnose(expected, seen).tick is None


def test_ticks_that_say_nothing_are_not_counted_as_compared() -> None:
    """Of four ticks, two of which say anything of a line that counts, two are compared."""
    rows = trace([1, 2, 3, 4]).rows
    expected = Trace(trace([]).lines, tuple(row._replace(care=0) if row.tick > 2 else row for row in rows))
    assert diagnose(expected, trace([1, 2, 3, 4])).compared == 2
    assert diagnose(trace([1, 2], care=0b0011), trace([1, 2], care=0b1100)).compared == 0


def test_first_difference_names_its_lines() -> None:
    """The lines that differ at the first tick that does are named."""
    finding = diagnose(trace([1, 2, 7]), trace([1, 2, 1]))
    assert finding.tick == 3
    assert finding.lines == ("bus[1]", "bus[2]")


def test_different_start_is_said_to_be_one() -> None:
    """Where the very first tick differs, the start is named."""
    assert any("a different start" in each for each in diagnose(trace([1, 2, 3]), trace([9, 4, 4])).explanations)


def test_another_instruction_is_another_path() -> None:
    """Where the first difference is in an instruction's first tick, the program took another way."""
    expected, seen = trace([8, 1, 9, 2, 8]), trace([8, 1, 10, 5, 6])
    finding = diagnose(expected, seen, starts=lambda row: row.bits & 8 != 0)
    assert any("a different program path from tick 3" in each for each in finding.explanations)


def test_fault_of_a_line_that_sends_the_machine_another_way_is_possible() -> None:
    """Where nothing fits to the end, faults of lines that fit up to the first difference are given as possible."""
    finding = diagnose(trace([1, 3, 1, 0, 5, 6]), trace([1, 3, 1, 1, 9, 2]))
    assert "possible, as it fits up to the first difference: bus[0] is stuck at 1" in finding.explanations


def test_traces_of_different_lines_are_a_slip_of_ours() -> None:
    """Traces are compared line by line; two kinds of lines can't be."""
    with pytest.raises(ValueError, match="different lines"):
        diagnose(trace([1], 4), trace([1], 3))
