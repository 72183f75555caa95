"""How steady the clock is: worked by hand, and against a board whose loop comes late."""

from __future__ import annotations

import itertools
import random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.bench import Bench
from handtick.events import Tick
from handtick.links.virtual import VirtualLink
from handtick.steadiness import histogram, steadiness
from handtick.virtual.board import VirtualBoard
from tests.board.hearing import Hearing
from tests.board.still_machine import StillMachine


def at(*times_us: int) -> list[Tick]:
    """Ticks with active edges at these times."""
    return [Tick(1, 1, number, 0, 0, time_us, 0) for number, time_us in enumerate(times_us, 1)]


def test_periods_by_hand() -> None:
    """Edges at 0, 1000, 2030 and 3000 us: periods 1000, 1030, 970; mean 1000, jitter 60."""
    found = steadiness(at(0, 1000, 2030, 3000), asked_hz=1000, given_hz=999.001, high_us=500)
    assert found.periods_us == (1000, 1030, 970)
    assert (found.mean_us, found.least_us, found.most_us, found.jitter_us) == (1000, 970, 1030, 60)
    assert found.asked_us == 1000
    assert found.given_us == pytest.approx(1001, abs=0.01)
    with pytest.raises(ValueError, match="2 ticks have no periods"):
        steadiness(at(0, 1), 1000, 0, 500)


@given(periods=st.lists(st.integers(1, 10_000), min_size=1, max_size=200), rows=st.integers(1, 12))
def test_every_period_is_in_one_class(periods: list[int], rows: int) -> None:
    """Classes lie side by side from the shortest to the longest, no more than asked for."""
    classes = histogram(periods, rows)
    assert sum(count for _, _, count in classes) == len(periods)
    assert (classes[0][0], classes[-1][1]) == (min(periods), max(periods))
    assert all(after[0] == before[1] + 1 for before, after in itertools.pairwise(classes))
    assert len(classes) <= rows


def test_lateness_of_the_loop_shows_as_jitter(monkeypatch: pytest.MonkeyPatch) -> None:
    """A loop that comes up to 300 us late makes periods longer, by as much, and none shorter than asked."""
    monkeypatch.setattr(VirtualBoard, "bursts", False)
    dice = random.Random(4)
    board = VirtualBoard(StillMachine(), lateness=lambda: dice.randrange(300))
    hearing = Hearing(VirtualLink(board))
    board.board.conductor.burst(60, 100_000)
    board.run_until(board.now_us + 2_000_000)
    hearing.listen()
    found = steadiness(hearing.ticks, 100, 0, 5000)
    edges = board.rising_edges_us
    assert list(found.periods_us) == [after - before for before, after in itertools.pairwise(edges)]
    assert 10_000 <= found.least_us < found.most_us <= 10_000 + 2 * 300
    assert 0 < found.jitter_us <= 600


def test_clock_made_by_hardware_has_no_jitter() -> None:
    """Each period is counted off in cycles."""
    with Bench(VirtualLink(VirtualBoard(StillMachine()))) as bench:
        found = steadiness(bench.burst(60, "1000"), 1000, float(bench.rate), 500)
    assert found.jitter_us == 0
    assert found.mean_us == found.given_us == 1000


@pytest.mark.parametrize("bursts", [False, True])
@pytest.mark.parametrize(("rate", "duty"), [("1000", 50), ("999", 33), ("7.5", 90), ("150", 1)])
def test_high_phase_that_is_told_is_the_one_made(
    bursts: bool, rate: str, duty: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """On both engines, what the status says of the high phase is how long the line stands high, to the microsecond."""
    monkeypatch.setattr(VirtualBoard, "bursts", bursts)
    board = VirtualBoard(StillMachine())
    with Bench(VirtualLink(board)) as bench:
        bench.ask("duty", duty)
        bench.burst(5, rate)
        told_us = int(bench.status().fields["high_ns"]) / 1000
    edges = board.line.edges
    highs = [end - start for (start, level), (end, _) in itertools.pairwise(edges) if level]
    assert highs == pytest.approx([told_us] * 5, abs=1.0)
    assert told_us >= 1e6 / float(rate) * duty / 100 - 1e-3
