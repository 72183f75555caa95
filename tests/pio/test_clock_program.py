"""The clock's PIO program keeps its promises, cycle by cycle, on two emulators that know nothing of each other.

``HANDTICK_LONG=1`` tries every wiring at every cycle, on the slower emulator too.
"""

from __future__ import annotations

import os
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from . import claims
from .bench import Bench
from .claims import Make
from .emulators import BENCHES, PioemuBench, Rp2040pyBench
from .hand import Hand, Wiring
from .wirings import EVERY, PART, SOME

NS_A_CYCLE = 8
LONG = os.environ.get("HANDTICK_LONG") == "1"


def places(wirings: list[Wiring], slower: list[Wiring]) -> list[object]:
    """Wirings on the faster emulator, and wirings on the slower one."""
    return [
        *(pytest.param(Rp2040pyBench, wiring, id=f"rp2040py-{wiring}") for wiring in wirings),
        *(pytest.param(PioemuBench, wiring, id=f"pioemu-{wiring}") for wiring in (EVERY if LONG else slower)),
    ]


everywhere = pytest.mark.parametrize(("kind", "wiring"), places(EVERY, SOME))
at_every_cycle = pytest.mark.parametrize(("kind", "wiring"), places(EVERY if LONG else PART, SOME))
in_either_loop = pytest.mark.parametrize("traced", [False, True], ids=["count", "trace"])


def maker(kind: type[Bench], wiring: Wiring, offset: int | None = None) -> Make:
    """What makes benches for a wiring."""
    program = wiring.program()
    return lambda **registers: kind(program, offset, **registers)


@in_either_loop
@everywhere
def test_bursts_are_exact(kind: type[Bench], wiring: Wiring, traced: bool) -> None:
    """A burst makes the ticks it was asked for, every phase as long as its own ask, from the shortest ones on."""
    claims.makes_exact_bursts(maker(kind, wiring), wiring, traced, random.Random(str(wiring)))


@in_either_loop
@at_every_cycle
def test_halt_at_any_cycle(kind: type[Bench], wiring: Wiring, traced: bool) -> None:
    """A halt that comes 48 ns before a tick forbids it; count and line agree whenever it comes; none is cut short."""
    before_tick = claims.DECIDED_CYCLES + (0 if wiring.two_phase else wiring.before_lead(traced))
    assert before_tick * NS_A_CYCLE <= 48
    claims.obeys_the_halt_line(maker(kind, wiring), wiring, traced)


@in_either_loop
@at_every_cycle
def test_request_to_rest_at_any_cycle(kind: type[Bench], wiring: Wiring, traced: bool) -> None:
    """A request to rest ends the burst at a tick boundary, whenever it comes, and the count says what was not made."""
    claims.obeys_a_waiting_word(maker(kind, wiring), wiring, traced)


@in_either_loop
@at_every_cycle
def test_new_widths_at_any_cycle(kind: type[Bench], wiring: Wiring, traced: bool) -> None:
    """Retimed at any cycle, the ticks come to the number asked for, and each is as its own ask."""
    claims.retimes_at_a_boundary(maker(kind, wiring), wiring, traced, random.Random(str(wiring)))


@in_either_loop
@everywhere
def test_every_burst_makes_a_tick(kind: type[Bench], wiring: Wiring, traced: bool) -> None:
    """With the halt line asking all the time, a burst makes one tick: the machine can be stepped past its halt."""
    claims.steps_past_a_halt(maker(kind, wiring), wiring, traced)


@in_either_loop
@everywhere
def test_any_number_can_be_loaded(kind: type[Bench], wiring: Wiring, traced: bool) -> None:
    """Numbers up to 2^30 - 1 arrive whole, and loading them moves no line and hands out no word."""
    claims.loads_any_number(maker(kind, wiring), wiring, traced, random.Random(str(wiring)))


@everywhere
def test_samples_show_the_probes_before_each_edge(kind: type[Bench], wiring: Wiring) -> None:
    """Samples show the probes 3 cycles before a leading edge, 6 with the longest dead time, 4 before a trailing one."""
    claims.samples_before_each_edge(maker(kind, wiring), wiring, random.Random(str(wiring)))


@everywhere
def test_edges_by_hand(kind: type[Bench], wiring: Wiring) -> None:
    """Half a tick by hand is one edge, with the dead time where there are two phases."""
    claims.makes_edges_by_hand(maker(kind, wiring), wiring)


@everywhere
def test_rest_is_rest(kind: type[Bench], wiring: Wiring) -> None:
    """From the start on, nothing moves the lines unasked, whatever an earlier program left in the registers."""
    claims.stays_at_rest(maker(kind, wiring), wiring)


@pytest.mark.parametrize("wiring", EVERY, ids=str)
def test_samples_that_nobody_takes(wiring: Wiring) -> None:
    """While nobody takes the samples, a phase lasts longer, none is shorter, and no sample is lost.

    On one emulator: ``pioemu`` goes on where the machine waits for room.
    """
    claims.waits_for_its_reader(maker(Rp2040pyBench, wiring), wiring, random.Random(str(wiring)))


@pytest.mark.parametrize("kind", BENCHES.values(), ids=BENCHES)
@pytest.mark.parametrize("wiring", SOME, ids=str)
def test_place_in_memory_does_not_matter(kind: type[Bench], wiring: Wiring) -> None:
    """The program does the same wherever it lies."""
    for offset in range(33 - len(wiring.program().words)):
        for traced in (False, True):
            claims.makes_exact_bursts(maker(kind, wiring, offset), wiring, traced, random.Random(offset), bursts=2)


Story = list[tuple[int, int, int, bool, int, int, int]]
stories = st.lists(
    st.tuples(
        st.integers(1, 6),
        st.integers(0, 12),
        st.integers(0, 12),
        st.booleans(),
        st.integers(0, 200),
        st.integers(0, 200),
        st.integers(0, 0xFFFF),
    ),
    min_size=1,
    max_size=4,
)


@settings(max_examples=400 if LONG else 60)
@given(wiring=st.sampled_from(EVERY), story=stories)
def test_both_emulators_tell_the_same_story(wiring: Wiring, story: Story) -> None:
    """Whatever is asked, halted and ended at whatever cycle, both emulators agree on every level and every word."""
    told = [_told(kind(wiring.program()), wiring, story) for kind in BENCHES.values()]
    assert told[0] == told[1]


def _told(bench: Bench, wiring: Wiring, story: Story) -> tuple[list[int], list[int], list[int]]:
    """Levels, words and what was left of each burst."""
    hand = Hand(bench, wiring)
    left = []
    for count, lead, trail, traced, halt_after, word_after, probes in story:
        least = bench.program.least(traced)
        bench.halt = hand.quiet
        bench.probes = probes
        began = bench.now
        bench.events[began + halt_after] = lambda: setattr(bench, "halt", 1 - hand.quiet)
        if word_after != halt_after:
            bench.events[began + word_after] = lambda: bench.push(0)
        left.append(hand.burst(count, least[0] + lead, least[1] + trail, traced))
        bench.events.clear()
    hand.check()
    return bench.levels, bench.words, left
