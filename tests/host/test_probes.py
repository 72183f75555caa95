"""Probes: each fault of a wire is told as that and as nothing else, and a healthy bench has none."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.bench import Bench
from handtick.events import Tick
from handtick.links.virtual import VirtualLink
from handtick.probes import (
    BUFFERS,
    DRIVEN,
    JOINED,
    LOOSE,
    STILL,
    STUCK,
    TUG,
    UNKNOWN,
    WIRES,
    Probe,
    judge_probes,
    trusts_pulls,
)
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.larch_board import larch_board
from handtick.virtual.pins import OutputPin
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick_board.rim import Rim

ALL = range(16)


def look(board: VirtualBoard, through: str, should_move: frozenset[int] = frozenset(), count: int = 100) -> list[Probe]:
    """What the command does: two looks at rest, a hundred ticks or so many, and the verdict."""
    with Bench(VirtualLink(board)) as bench:
        bench.reset()
        bench.ask("pull", "up")
        up = [int(bench.status().fields["probes"]) for _ in range(4)]
        bench.ask("pull", "down")
        down = [int(bench.status().fields["probes"]) for _ in range(4)]
        bench.ask("pull", "set")
        ticks = bench.burst(count, "1000")
    return judge_probes(16, up, down, ticks, trusts_pulls("virtual", through), should_move)


def states(probes: list[Probe]) -> dict[int, str]:
    """Every probe that is not driven, with what it is."""
    return {probe.number: probe.state for probe in probes if probe.state != DRIVEN}


def test_healthy_bench_has_nothing_wrong() -> None:
    """All sixteen wires are driven."""
    assert states(look(larch_board(), WIRES)) == {}


@pytest.mark.parametrize("count", range(1, 40))
def test_healthy_bench_has_nothing_wrong_however_few_the_ticks(count: int) -> None:
    """Lines that were alike so far by chance are not joined."""
    found = {probe.state for probe in look(larch_board(), WIRES, count=count)}
    assert found <= {DRIVEN, STILL}


@pytest.mark.parametrize("number", ALL)
def test_loose_wire_is_found_and_nothing_else(number: int) -> None:
    """Whichever clip has come off; and no level is claimed of it."""
    probes = look(larch_board(fault=f"loose:{number}"), WIRES)
    assert states(probes) == {number: LOOSE}
    assert probes[number].level is None


@pytest.mark.parametrize("level", [0, 1])
@pytest.mark.parametrize("number", ALL)
def test_wire_that_never_moves_is_stuck_where_it_should_move(number: int, level: int) -> None:
    """Without knowing what should be, it never moved; with a good run it is stuck. Its level is told."""
    fault = f"shorted:{number}={level}"
    assert states(look(larch_board(fault=fault), WIRES)) == {number: STILL}
    probes = look(larch_board(fault=fault), WIRES, should_move=frozenset(ALL))
    assert states(probes) == {number: STUCK}
    assert probes[number].level is bool(level)


@pytest.mark.parametrize("pair", [(number, number + 1) for number in range(15) if number != 13])
def test_joined_neighbours_are_found_and_nothing_else(pair: tuple[int, int]) -> None:
    """Each of the two names the other. (Lines 13 and 14 are hardly ever both high: the pair below.)"""
    probes = look(larch_board(fault=f"bridged:{pair[0]},{pair[1]}"), WIRES)
    found = states(probes)
    if probes[pair[0]].moves:
        assert found == {pair[0]: JOINED, pair[1]: JOINED}
        assert (probes[pair[0]].others, probes[pair[1]].others) == ((pair[1],), (pair[0],))
    else:
        # Two lines that are never high together, joined, are both low for good.
        assert found == {pair[0]: STILL, pair[1]: STILL}


def test_joined_lines_that_hardly_move_are_stuck_where_they_should_move() -> None:
    """Two lines that are never high together hold each other low; with a good run that is no mystery."""
    probes = look(larch_board(fault="bridged:13,14"), WIRES, should_move=frozenset(ALL))
    assert set(states(probes)) == {13, 14}
    assert set(states(probes).values()) <= {STUCK, JOINED}


def test_behind_buffers_who_is_driven_is_unknown_and_no_level_is_claimed() -> None:
    """A loose wire is not told from a driven one, and is not given a level."""
    probes = look(larch_board(fault="loose:5"), BUFFERS)
    assert {probe.state for probe in probes} == {UNKNOWN}
    assert all(probe.level is None for probe in probes)


def test_joined_and_stuck_wires_are_found_behind_buffers_too() -> None:
    """They show in what moves, which passes buffers."""
    assert look(larch_board(fault="bridged:11,12"), BUFFERS)[11].others == (12,)
    stuck = look(larch_board(fault="shorted:9=1"), BUFFERS, should_move=frozenset(ALL))
    assert [probe.number for probe in stuck if probe.state == STUCK] == [9]
    assert stuck[9].level is None, "a loose wire before a buffer may stay at one level too"


class LooseBehindBuffers(Larch):
    """A Larch whose probe 5 hangs loose before an input buffer: the board's own pulls don't reach it, the tug does."""

    __slots__ = ("tug",)

    def probes(self) -> int:
        """See ``Larch``."""
        return super().probes() & ~0x20 | (0x20 if self.tug.value else 0)


def test_tug_finds_a_loose_wire_behind_buffers() -> None:
    """The same command pulls before the buffers, and the wire follows."""
    larch = LooseBehindBuffers(RAIN_TALLY)
    larch.tug = OutputPin(True, lambda: 0)
    boards = type("WithTug", (VirtualBoard,), {"rewired": staticmethod(lambda rim: _tugged(rim, larch.tug))})
    assert states(look(boards(larch), TUG)) == {5: LOOSE}
    assert larch.tug.value, "left alone, loose wires are pulled high again"
    assert states(look(boards(larch), BUFFERS)) == dict.fromkeys(ALL, UNKNOWN)


def _tugged(rim: Rim, tug: OutputPin) -> Rim:
    rim.tug = tug
    return rim


def test_pull_down_of_an_rp2350_is_not_believed() -> None:
    """On such a board the answer is unknown, unless the tug pulls."""
    for board in ("raspberry_pi_pico2", "raspberry_pi_pico2_w", "some_rp2350_board"):
        assert not trusts_pulls(board, WIRES)
        assert trusts_pulls(board, TUG)
    assert trusts_pulls("raspberry_pi_pico", WIRES)
    assert not trusts_pulls("raspberry_pi_pico", BUFFERS)


SAMPLES = st.lists(st.integers(0, 0xFFFF), min_size=1, max_size=6)
TICKS = st.lists(st.tuples(st.integers(0, 0xFFFF), st.integers(0, 0xFFFF)), max_size=12)


@given(up=SAMPLES, down=SAMPLES, samples=TICKS, trusted=st.booleans(), should_move=st.frozensets(st.sampled_from(ALL)))
def test_every_verdict_has_its_reason(
    up: list[int], down: list[int], samples: list[tuple[int, int]], trusted: bool, should_move: frozenset[int]
) -> None:
    """Whatever the samples: loose ones did not stay put at rest, driven ones moved, joined ones are alike, and of a
    wire that may be loose no level is claimed."""
    ticks = [Tick(1, 1, number, early, late, 0, 0) for number, (early, late) in enumerate(samples, 1)]
    probes = judge_probes(16, up, down, ticks, trusted, should_move)
    for probe in probes:
        at_rest = {sample >> probe.number & 1 for sample in [*up, *down]}
        moved = len({sample >> probe.number & 1 for pair in samples for sample in pair}) > 1
        assert (probe.state == LOOSE) == (trusted and len(at_rest) > 1)
        assert probe.state != DRIVEN or (trusted and moved)
        assert probe.state not in (STUCK, STILL) or not moved
        assert probe.state != STUCK or probe.number in should_move
        assert bool(probe.others) == (probe.state == JOINED)
        assert all(
            probes[other].levels == probe.levels and probe.number in probes[other].others for other in probe.others
        )
        assert probe.level is None or trusted
