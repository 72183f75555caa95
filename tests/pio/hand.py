"""A wiring of the clock, and the hand that asks a bench for ticks and keeps what it asked for."""

from __future__ import annotations

import itertools
from dataclasses import dataclass

from handtick_board.clock_program import X_OUT, ClockProgram, Loader

from .bench import Bench

#: Cycles from the instant a sample shows to its edge: the late one, and the early one without dead time.
LATE_CYCLES, EARLY_CYCLES = 4, 3
#: What X holds where every tick was made.
NONE_LEFT = 0xFFFFFFFF
#: No burst of these tests takes longer.
MOST_CYCLES = 4000


@dataclass(frozen=True)
class Wiring:
    """The arguments of a ``ClockProgram``."""

    outputs: str = "clock"
    halt: str = "high"
    inverted: bool = False
    dead_cycles: int = 2
    probes: bool = True

    def program(self) -> ClockProgram:
        """Their program."""
        return ClockProgram(self.outputs, self.halt, self.probes, self.inverted, self.dead_cycles)

    @property
    def two_phase(self) -> bool:
        """Whether there is dead time."""
        return self.outputs == "two-phase"

    def before_lead(self, traced: bool) -> int:
        """Cycles from the first instruction of a tick to that of its leading edge."""
        if self.two_phase:
            return self.dead_cycles
        return 2 if traced else 0

    def early_cycles(self) -> int:
        """Cycles from the instant an early sample shows to the leading edge."""
        return EARLY_CYCLES + (max(0, self.dead_cycles - 5) if self.two_phase else 0)

    def __str__(self) -> str:
        words = [self.outputs, self.halt, *["inverted"] * self.inverted, *["no probes"] * (not self.probes)]
        return "-".join(words + [f"dead {self.dead_cycles}"] * self.two_phase)


@dataclass(frozen=True)
class Burst:
    """Ticks that were made alike: their phases in cycles, and how many."""

    lead: int
    trail: int
    made: int


class Hand:
    """Does by hand what the board's firmware does, and keeps what it asked for."""

    def __init__(self, bench: Bench, wiring: Wiring) -> None:
        self.bench = bench
        self.wiring = wiring
        self.bursts: list[Burst] = []
        self._loader = Loader(bench.program, bench.offset)
        bench.halt = self.quiet
        bench.run(3)

    @property
    def quiet(self) -> int:
        """The level at which the halt line asks for nothing."""
        return int(self.wiring.halt == "low")

    @property
    def loading_cycles(self) -> int:
        """How long it takes to load a burst and send it off."""
        return len(self._loader.words)

    def start(self, count: int, lead: int, trail: int, traced: bool) -> None:
        """Sends off a burst."""
        self._loader.set(count, lead, trail, traced)
        self.bench.force(self._loader.words)

    def left(self) -> int:
        """Asks how many ticks were not made."""
        self.bench.force(X_OUT)
        assert self.bench.words, "no answer"
        left = self.bench.words.pop()
        return 0 if left == NONE_LEFT else left

    def burst(self, count: int, lead: int, trail: int, traced: bool) -> int:
        """Makes a burst; how many of its ticks were not made."""
        words = len(self.bench.words)
        self.start(count, lead, trail, traced)
        self.bench.run_to_rest(MOST_CYCLES)
        since_edge = self.bench.now - 1 - edges_of(self.bench)[-1]
        assert since_edge < trail - self.wiring.before_lead(traced), "at rest too late"
        left = self.left()
        assert 0 <= left < count
        assert len(self.bench.words) - words == 2 * (count - left) * traced
        self.bursts.append(Burst(lead, trail, count - left))
        return left

    def check(self) -> None:
        """Every phase is as long as its own ask, and the lines go together as the wiring says."""
        self.bench.run(self.bursts[-1].trail)
        levels = self.bench.levels
        rest = self.bench.program.rest
        assert levels[0] == levels[-1] == rest
        runs = [(level, len(list(run))) for level, run in itertools.groupby(level & 1 for level in levels)]
        leads, trails = runs[1::2], runs[2::2]
        asked = [burst for burst in self.bursts for _ in range(burst.made)]
        last = set(itertools.accumulate(burst.made for burst in self.bursts))
        assert [cycles for _, cycles in leads] == [burst.lead for burst in asked]
        assert len(trails) == len(asked)
        for at, (burst, (_, cycles)) in enumerate(zip(asked, trails, strict=True), 1):
            assert cycles >= burst.trail if at in last else cycles == burst.trail
        check_lines(levels, self.wiring)


def check_lines(levels: list[int], wiring: Wiring, by_hand: bool = False) -> None:
    """The second line is what the wiring says, on every cycle."""
    if wiring.outputs == "inverse":
        assert set(levels) <= {1, 2}
    if wiring.two_phase:
        active = [level ^ 3 * wiring.inverted for level in levels]
        assert set(active) <= {0, 1, 2}, "both phases at once"
        gaps = [len(list(run)) for level, run in itertools.groupby(active) if level == 0]
        order = [level for level, _ in itertools.groupby(active) if level]
        assert order == [2, 1] * (len(order) // 2) + [2]
        assert all(gap >= wiring.dead_cycles if by_hand else gap == wiring.dead_cycles for gap in gaps)
        assert len(gaps) == len(order) - 1


def edges_of(bench: Bench) -> list[int]:
    """The cycles at whose end the clock line changed."""
    pairs = itertools.pairwise(level & 1 for level in bench.levels)
    edges = [at for at, (before, after) in enumerate(pairs, 1) if before != after]
    assert edges, "no edge"
    return edges
