"""What differs between repeats of one run, judged against a look at every value of every repeat."""

from __future__ import annotations

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Tick
from handtick.wiring import Bus, Wiring
from handtick.wobble import Wobbles

# Probe 2 has no name: what is on it does not count.
WIRING = Wiring((Bus("one", (0,)), Bus("other", (1,))))
Repeats = list[dict[int, tuple[int, int]]]

repeats = st.lists(
    st.dictionaries(
        st.integers(1, 6), st.tuples(st.sampled_from([0, 0, 0, 1, 4]), st.sampled_from([0, 0, 0, 2, 3, 7])), max_size=6
    ),
    min_size=1,
    max_size=7,
)


def taken(came: Repeats) -> Wobbles:
    """Repeats, each the early and late samples by tick."""
    wobbles = Wobbles(WIRING)
    for each in came:
        wobbles.take(Tick(1, 1, tick, *samples, 0, 0) for tick, samples in sorted(each.items()))
    return wobbles


def mostly_and_odd(came: Repeats, tick: int, when: int) -> tuple[int, dict[int, int]]:
    """What most repeats had at a tick (the earliest of those that are as many), and those that had something else."""
    values = {number: each[tick][when] & 3 for number, each in enumerate(came) if tick in each}
    mostly = Counter(values.values()).most_common(1)[0][0] if values else 0
    return mostly, {number: value for number, value in values.items() if value != mostly}


@given(repeats)
def test_every_line_that_ever_differed_is_told_with_how_often(came: Repeats) -> None:
    """Also where repeats stopped early, or ticks of them did not come."""
    expected = {}
    for tick in range(1, 7):
        for when, word in enumerate(("early", "late")):
            mostly, odd = mostly_and_odd(came, tick, when)
            for bit, line in enumerate(("one", "other")):
                often = sum((value ^ mostly) >> bit & 1 for value in odd.values())
                if often:
                    expected[tick, line, word] = often
    found = taken(came).found()
    assert {(each.tick, each.line, each.when): each.often for each in found} == expected
    assert [each.tick for each in found] == sorted(each.tick for each in found)


@given(repeats)
def test_a_repeat_counts_where_it_first_went_another_way(came: Repeats) -> None:
    """And nowhere after that."""
    expected: Counter[tuple[int, str, str]] = Counter()
    strayed: set[int] = set()
    for tick in range(1, 7):
        for when, word in enumerate(("early", "late")):
            mostly, odd = mostly_and_odd(came, tick, when)
            for number, value in odd.items():
                for bit, line in enumerate(("one", "other")):
                    if number not in strayed and (value ^ mostly) >> bit & 1:
                        expected[tick, line, word] += 1
            strayed |= odd.keys()
    first = taken(came).first_of()
    assert {(each.tick, each.line, each.when): each.often for each in first} == expected
