"""The crank: one holder at a time, and back by itself when the holder is gone."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from handtick.classroom.crank import MOST_WAITING, Crank


def test_the_crank_goes_round() -> None:
    """Asked for in a row, handed to one, handed to the next."""
    crank = Crank()
    assert crank.holder is None
    assert crank.ask(1)
    assert crank.ask(2)
    assert not crank.ask(1)
    assert crank.give(1)
    assert (crank.holder, crank.waiting) == (1, [2])
    assert not crank.give(1)
    assert crank.give(2)
    assert (crank.holder, crank.waiting) == (2, [])
    assert not crank.ask(2)


def test_whoever_is_gone_for_the_stated_time_loses_it() -> None:
    """To the moment; and a moment before, one who comes back keeps it."""
    crank = Crank(gone_s=10)
    crank.give(1)
    crank.gone(1, 100.0)
    assert not crank.pass_time(109.9)
    crank.back(1)
    assert not crank.pass_time(200.0)
    crank.gone(1, 200.0)
    assert crank.pass_time(210.0)
    assert crank.holder is None
    assert not crank.pass_time(300.0)


def test_a_watcher_who_leaves_changes_nothing() -> None:
    """Only the holder's link counts."""
    crank = Crank()
    crank.give(1)
    crank.gone(2, 0.0)
    assert crank.due_s() is None


def test_the_row_has_an_end() -> None:
    """A class that all wants it at once."""
    crank = Crank()
    assert [crank.ask(number) for number in range(MOST_WAITING + 5)].count(True) == MOST_WAITING


@given(
    st.lists(st.tuples(st.sampled_from(["ask", "leave", "give", "take", "gone", "back", "time"]), st.integers(1, 4)))
)
def test_there_is_never_more_than_one_holder_nor_one_who_waits_twice(deeds: list[tuple[str, int]]) -> None:
    """Whatever is done in whatever order."""
    crank, now_s = Crank(gone_s=3), 0.0
    for deed, who in deeds:
        now_s += 1
        if deed == "take":
            crank.give(None)
        elif deed == "time":
            crank.pass_time(now_s)
        elif deed == "gone":
            crank.gone(who, now_s)
        else:
            getattr(crank, deed)(who)
        assert crank.holder not in crank.waiting
        assert len(set(crank.waiting)) == len(crank.waiting)
        assert crank.holder is None or crank.holder in (1, 2, 3, 4)
