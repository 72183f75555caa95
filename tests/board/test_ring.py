"""The ring of tick records gives back what was put in, in order, wherever its memory's end is."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick_board.ring import Ring

Row = tuple[int, int, int, int]


def rows(bits: int) -> st.SearchStrategy[list[Row]]:
    """Records with samples of so many bits."""
    sample = st.integers(0, 2**bits - 1)
    return st.lists(st.tuples(sample, sample, st.integers(0, 2**28 - 1), st.integers(0, 15)), max_size=40)


def taken(ring: Ring, most: int) -> list[Row]:
    """At most so many records taken out, as ``push`` was given them."""
    numbers = ring.take(most)
    found = zip(*[iter(numbers)] * 4, strict=True)
    return [(early, late, (high & 0xFFF) << 16 | low, high >> 12) for early, late, low, high in found]


@pytest.mark.parametrize("wide", [False, True], ids=["16 bits", "64 bits"])
@given(data=st.data())
def test_records_come_out_as_they_went_in(wide: bool, data: st.DataObject) -> None:
    """However many are taken at once, and however they lie in the ring."""
    ring, put_in, out = Ring(5, wide), data.draw(rows(64 if wide else 16)), []
    for number, row in enumerate(put_in, 1):
        ring.push(*row)
        if ring.full or data.draw(st.booleans()):
            out += taken(ring, data.draw(st.integers(1, 7)))
        assert ring.waiting == number - len(out)
    while ring.waiting:
        out += taken(ring, 3)
    assert out == put_in


def test_nothing_comes_from_an_empty_ring() -> None:
    """Nor does what has been thrown away."""
    ring = Ring(4)
    assert ring.take(3) == ()
    ring.push(1, 2, 3, 4)
    assert ring.clear() == 1
    assert ring.take(3) == ()
    ring.push(5, 6, 7, 8)
    assert taken(ring, 3) == [(5, 6, 7, 8)]
