"""Contact trains: (microseconds, closed) from the bench, and any that Hypothesis can think of."""

from __future__ import annotations

from hypothesis import strategies as st

Train = list[tuple[int, int]]

SHORT_PRESS = [(0, 0), (1000, 1), (1180, 0), (1300, 1), (1420, 0), (1700, 1), (251_700, 0), (251_900, 1), (252_050, 0)]
LONG_HOLD = [
    (0, 0),
    (500, 1),
    (5_000_500, 0),
    (5_003_000, 1),
    (5_003_400, 0),
    (5_009_000, 1),
    (5_009_600, 0),
    (5_012_500, 1),
    (5_012_620, 0),
]
SPIKE = [(0, 0), (7000, 1), (7003, 0)]
TWO_PRESSES = [
    (0, 0),
    (1000, 1),
    (1400, 0),
    (1600, 1),
    (41_000, 0),
    (41_300, 1),
    (41_500, 0),
    (131_000, 1),
    (131_250, 0),
    (131_500, 1),
    (171_000, 0),
]

#: Distances between two edges: below, at and above the press and re-arm times, and anything between.
_DISTANCES = st.one_of(
    st.integers(1, 300),
    st.sampled_from([99, 100, 101, 19_999, 20_000, 20_001]),
    st.integers(300, 60_000),
)


@st.composite
def trains(draw: st.DrawFn, most: int = 40, found: int | None = None) -> Train:
    """Any train: edges that alternate, at any distances; the contact is ``found`` at that level, or either."""
    level = draw(st.integers(0, 1)) if found is None else found
    train, at_us = [(0, level)], 0
    for distance in draw(st.lists(_DISTANCES, max_size=most)):
        at_us += distance
        level = 1 - level
        train.append((at_us, level))
    return train
