"""What must hold of the clock's PIO program, on any bench and for any wiring. Each claim raises AssertionError.

A claim makes its own benches, so that it can begin again for every cycle at which something may happen.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable

from handtick_board.clock_program import ENDLESS_TICKS, MOST, Loader

from .bench import Bench
from .hand import LATE_CYCLES, MOST_CYCLES, NONE_LEFT, Hand, Wiring, check_lines, edges_of

#: Makes a bench; its registers and the level of its halt line may be given.
Make = Callable[..., Bench]

#: Cycles from the last level of the halt line that is obeyed, or the last word, to the first instruction of the tick
#: that it forbids.
DECIDED_CYCLES = 4


def makes_exact_bursts(make: Make, wiring: Wiring, traced: bool, rng: random.Random, bursts: int = 6) -> None:
    """Bursts of random numbers and widths are made exactly, one after the other, from the shortest phases on."""
    hand = Hand(make(), wiring)
    lead, trail = hand.bench.program.least(traced)
    hand.bench.probes = 0xFFFF
    assert hand.burst(3, lead, trail, traced) == 0
    for _ in range(bursts):
        hand.bench.probes = rng.randrange(1 << 16)
        count, longer = rng.randint(1, 7), rng.choices(range(40), k=2)
        assert hand.burst(count, lead + longer[0], trail + longer[1], traced) == 0
        hand.bench.run(rng.randint(0, 9))
    hand.check()


def obeys_the_halt_line(make: Make, wiring: Wiring, traced: bool) -> None:
    """Asked for at any cycle, a halt comes at the first boundary that it is in time for, and the count says so."""
    count, lead, trail = _short_ask(make, wiring, traced)
    for at in _every_cycle(make, wiring, traced):
        hand = Hand(make(), wiring)
        bench = hand.bench
        asked = bench.now + at
        bench.events[asked] = lambda bench=bench, level=1 - hand.quiet: setattr(bench, "halt", level)
        left = hand.burst(count, lead, trail, traced)
        hand.check()
        assert count - left == (count if wiring.halt == "none" else _in_time(hand, traced, asked, count))


def obeys_a_waiting_word(make: Make, wiring: Wiring, traced: bool) -> None:
    """A word that comes at any cycle ends the burst at the first boundary that it is in time for."""
    count, lead, trail = _short_ask(make, wiring, traced)
    for at in _every_cycle(make, wiring, traced):
        hand = Hand(make(), wiring)
        asked = hand.bench.now + at
        hand.bench.events[asked] = lambda bench=hand.bench: bench.push(0)
        left = hand.burst(count, lead, trail, traced)
        hand.check()
        assert count - left == _in_time(hand, traced, asked, count)


def retimes_at_a_boundary(make: Make, wiring: Wiring, traced: bool, rng: random.Random) -> None:
    """Ended at any cycle and loaded again with new widths, ticks come to the number asked for, each as its own ask."""
    count, lead, trail = _short_ask(make, wiring, traced)
    for at in _every_cycle(make, wiring, traced):
        hand = Hand(make(), wiring)
        bench = hand.bench
        words = rng.randint(1, 4)
        bench.events[bench.now + at] = lambda bench=bench, words=words: [bench.push(0) for _ in range(words)]
        left = hand.burst(count, lead, trail, traced)
        if left:
            again = rng.choice((traced, not traced))
            least = bench.program.least(again)
            assert hand.burst(left, least[0] + rng.randint(0, 9), least[1] + rng.randint(0, 9), again) == 0
        hand.check()
        assert sum(burst.made for burst in hand.bursts) == count


def steps_past_a_halt(make: Make, wiring: Wiring, traced: bool) -> None:
    """With the halt line asking, or a word that came too early, each burst makes one tick and no more."""
    hand = Hand(make(), wiring)
    bench = hand.bench
    lead, trail = bench.program.least(traced)
    bench.halt = 1 - hand.quiet
    if wiring.halt != "none":
        for _ in range(3):
            assert hand.burst(5, lead, trail, traced) == 4
    # Asked to rest by a word: though it ends after its first tick, the most there can be is counted down exactly.
    bench.events[bench.now + 9] = lambda: bench.push(0)
    assert hand.burst(MOST, lead, trail, traced) == MOST - 1
    bench.events[bench.now + 9] = lambda: bench.push(0)
    assert hand.burst(ENDLESS_TICKS, lead, trail, traced) == ENDLESS_TICKS - 1
    hand.check()


def samples_before_each_edge(make: Make, wiring: Wiring, rng: random.Random) -> None:
    """A tick hands out two words: the probes just before its leading edge, then just before its trailing edge."""
    for longer in ((0, 0), (rng.randint(1, 9), rng.randint(1, 9))):
        hand = Hand(make(), wiring)
        bench = hand.bench
        shown: list[int] = []
        secret = rng.randrange(1 << 16)

        def show(bench=bench, shown=shown, secret=secret) -> None:  # type: ignore[no-untyped-def]
            # What the probes hold is told by the cycle, and each probe changes now and then.
            shown.append((len(shown) * 40503 ^ secret) & 0xFFFF)
            bench.probes = shown[-1]
            bench.events[bench.now + 1] = show

        began = bench.now
        bench.events[began] = show
        lead, trail = bench.program.least(True)
        assert hand.burst(5, lead + longer[0], trail + longer[1], True) == 0
        before = itertools.cycle((wiring.early_cycles(), LATE_CYCLES))
        # An edge of cycle n leaves at its end; what comes at the instant itself is too late.
        seen = [edge - next(before) for edge in edges_of(bench)]
        expected = [shown[cycle - began] if wiring.probes else 0 for cycle in seen]
        assert [word & 0xFFFF for word in bench.words] == expected
        hand.check()


def makes_edges_by_hand(make: Make, wiring: Wiring) -> None:
    """A word list for an edge makes that edge and no other, any number of times, and a burst after it is exact."""
    hand = Hand(make(), wiring)
    bench = hand.bench
    began = bench.now
    for times in range(1, 4):
        for leading in (True, False):
            bench.force(bench.program.edge(leading))
            bench.run(5)
            assert len(edges_of(bench)) == 2 * times - leading
            assert bench.at_rest
    check_lines(bench.levels[began - 1 :], wiring, by_hand=True)
    lead, trail = bench.program.least(False)
    assert hand.burst(3, lead, trail, False) == 0
    assert len(edges_of(bench)) == 12


def loads_any_number(make: Make, wiring: Wiring, traced: bool, rng: random.Random) -> None:
    """Whatever is loaded arrives in its register, without an edge, a word, or a word of earlier left behind."""
    bench = make()
    loader = Loader(bench.program, bench.offset)
    least_lead, least_trail = bench.program.least(traced)
    values = [0, MOST, *(1 << bit for bit in range(30)), *(rng.randrange(MOST) for _ in range(10))]
    for lead, trail in zip(values, rng.sample(values, len(values)), strict=True):
        count = rng.choice([*values[1:], ENDLESS_TICKS])
        loader.set(count, lead + least_lead, trail + least_trail, traced)
        for _ in range(rng.randint(0, 4)):
            bench.push(0)
        bench.force(loader.words[:-1])
        assert bench.registers == (count - 1, lead, trail)
        assert bench.waiting_words == 0
        assert bench.at_rest
    assert bench.words == []
    assert set(bench.levels) == {bench.program.rest}


def stays_at_rest(make: Make, wiring: Wiring) -> None:
    """From the start on, whatever the registers hold, nothing that comes on a line or into the FIFO makes an edge."""
    for left_behind, halt in itertools.product((0, 1, NONE_LEFT), (0, 1)):
        bench = make(left_behind=left_behind, halt=halt)
        for at in range(40):
            bench.halt = halt ^ at // 6 & 1
            bench.probes = at * 4111 & 0xFFFF
            if at % 10 == 5:
                bench.push(at)
            bench.run()
        assert bench.at_rest
        assert bench.words == []
        assert set(bench.levels) == {bench.program.rest}


def waits_for_its_reader(make: Make, wiring: Wiring, rng: random.Random) -> None:
    """While nobody takes the samples a phase lasts longer, none is shorter, and no sample is lost."""
    hand = Hand(make(), wiring)
    bench = hand.bench
    bench.taking = False
    lead, trail = bench.program.least(True)
    count = 9
    hand.start(count, lead, trail, True)
    words: list[int] = []
    for _ in range(400):
        bench.run(rng.randint(100, 200))
        words += bench.taken()
        if bench.at_rest:
            break
    assert bench.at_rest
    words += bench.taken()
    phases = [len(list(run)) for _, run in itertools.groupby(level & 1 for level in bench.levels)][1:-1]
    assert len(words) == 2 * count
    assert len(phases) == 2 * count - 1
    assert min(phases[0::2]) >= lead
    assert min(phases[1::2]) >= trail
    assert max(phases) > 30


def _short_ask(make: Make, wiring: Wiring, traced: bool) -> tuple[int, int, int]:
    """A short burst, another one for each wiring: number, and phases that may be somewhat longer than they must be."""
    rng = random.Random(f"{wiring} {traced}")
    lead, trail = make().program.least(traced)
    return rng.randint(2, 4), lead + rng.randint(0, 3), trail + rng.randint(0, 4)


def _every_cycle(make: Make, wiring: Wiring, traced: bool) -> list[int]:
    """Every cycle of such a burst and some after it, counted from where loading begins, and some while it is loaded."""
    ask = _short_ask(make, wiring, traced)
    hand = Hand(make(), wiring)
    began = hand.bench.now
    hand.start(*ask, traced)
    loaded = hand.bench.now - began
    hand.bench.run_to_rest(MOST_CYCLES)
    # Words that are there when loading begins are from an earlier request, and thrown away.
    return [*range(5, loaded - 3, 9), *range(loaded - 3, hand.bench.now - began + 3)]


def _in_time(hand: Hand, traced: bool, asked: int, count: int) -> int:
    """How many ticks a request at a cycle leaves: every tick begins whose decision had been made."""
    burst = hand.bursts[0]
    first = edges_of(hand.bench)[0] - hand.wiring.before_lead(traced)
    period = burst.lead + burst.trail
    for made in range(1, count):
        if asked <= first + made * period - DECIDED_CYCLES:
            return made
    return count
