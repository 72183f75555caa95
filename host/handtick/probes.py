"""What each probe's wire is: driven, loose, stuck, never moved, or joined to another; or that it can't be told.

Two looks tell it. At rest, the wires are pulled up and then down by resistors: one that follows is driven by nobody.
Then ticks are made: what moves is driven, and two wires that move alike in every sample touch. The board's own pulls
reach a wire only where no input buffer is between; behind buffers it takes the "tug", resistors at the clips.
"""

from __future__ import annotations

import itertools
from collections.abc import Collection, Iterable, Sequence
from dataclasses import dataclass

from handtick.events import Tick

#: What is between the probes' wires and the board: nothing, input buffers, or input buffers with the tug before them.
WIRES, BUFFERS, TUG = "wires", "buffers", "tug"

DRIVEN, LOOSE, STUCK, STILL, JOINED, UNKNOWN = "driven", "loose", "stuck", "never moved", "joined", "unknown"

#: States that are a fault for sure.
FAULTS = (LOOSE, STUCK, JOINED)

#: Two wires are joined if they moved alike and at least so often: by chance, two of a machine's lines hardly do,
#: however short the run.
LEAST_MOVES = 8


@dataclass(frozen=True, slots=True)
class Probe:
    """What one probe's wire is.

    Attributes:
        number: from 0.
        state: one of the six.
        levels: its level in each sample, early and late in turn.
        others: probes it is joined to.
        trusted: whether pulls told who drives it.
    """

    number: int
    state: str
    levels: tuple[bool, ...]
    others: tuple[int, ...] = ()
    trusted: bool = True

    @property
    def moves(self) -> int:
        """How often it moved from one sample to the next."""
        return _moves(self.levels)

    @property
    def level(self) -> bool | None:
        """Its level where it had one all the time and is driven; None where it moved, and where nobody may drive it."""
        if self.state == LOOSE or not self.trusted or self.moves or not self.levels:
            return None
        return self.levels[0]


def trusts_pulls(board: str, through: str) -> bool:
    """Whether pulls tell who is driven.

    Args:
        board: the kind of board, as its greeting has it. The pull-down of an RP2350 A2 can't pull a loose pin down
            (erratum RP2350-E9), and the greeting does not say which stepping it is.
        through: ``WIRES``, ``BUFFERS`` or ``TUG``.
    """
    if through == TUG:
        return True
    return through == WIRES and not any(word in board.lower() for word in ("rp2350", "pico2"))


def judge_probes(
    count: int,
    pulled_up: Sequence[int],
    pulled_down: Sequence[int],
    ticks: Iterable[Tick],
    trusted: bool,
    should_move: Collection[int] = (),
    chained: int = 0,
) -> list[Probe]:
    """Judges all probes.

    Args:
        count: how many probes there are.
        pulled_up, pulled_down: samples taken at rest under either pull, one or more each.
        ticks: ticks made after that.
        trusted: whether the pulls tell who is driven.
        should_move: probes that move in these ticks of a machine that is well; one that does not is stuck.
        chained: how many probes, the last ones, are on a chain, whose inputs no pull reaches.
    """
    levels = _levels(count, ((tick.early, tick.late) for tick in ticks))
    reached = [trusted and number < count - chained for number in range(count)]
    loose = [reached[number] and _is_loose(number, pulled_up, pulled_down) for number in range(count)]
    joined = _joined([() if loose[number] else levels[number] for number in range(count)])
    probes = []
    for number in range(count):
        moved = _moves(levels[number]) > 0
        if loose[number]:
            state = LOOSE
        elif joined[number]:
            state = JOINED
        elif moved and reached[number]:
            state = DRIVEN
        elif number in should_move and not moved:
            state = STUCK
        else:
            state = STILL if reached[number] else UNKNOWN
        probes.append(Probe(number, state, levels[number], joined[number], reached[number]))
    return probes


def _is_loose(number: int, pulled_up: Sequence[int], pulled_down: Sequence[int]) -> bool:
    """Whether a wire follows the pulls, or is not the same twice at rest."""
    up = {sample >> number & 1 for sample in pulled_up}
    down = {sample >> number & 1 for sample in pulled_down}
    return not (up == down and len(up) == 1)


def _joined(levels: Sequence[tuple[bool, ...]]) -> list[tuple[int, ...]]:
    """For each wire, the others whose samples are all the same."""
    alike: dict[tuple[bool, ...], list[int]] = {}
    for number, each in enumerate(levels):
        if _moves(each) >= LEAST_MOVES:
            alike.setdefault(each, []).append(number)
    return [tuple(other for other in alike.get(each, []) if other != number) for number, each in enumerate(levels)]


def _levels(count: int, samples: Iterable[tuple[int, int]]) -> list[tuple[bool, ...]]:
    row = [sample for pair in samples for sample in pair]
    return [tuple(bool(sample >> number & 1) for sample in row) for number in range(count)]


def _moves(levels: Sequence[bool]) -> int:
    """How often a wire moved from one sample to the next."""
    return sum(before != after for before, after in itertools.pairwise(levels))
