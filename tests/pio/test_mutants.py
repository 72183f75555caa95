"""Every instruction of the PIO program is needed as it is: changed in any way, it breaks a promise that is tested.

``HANDTICK_LONG=1`` tries every mutant (two minutes); without, those that lack an instruction and a part of the others.
"""

from __future__ import annotations

import os
import random
from pathlib import Path

import pytest

from handtick_board.clock_program import Loader

from . import claims
from .bench import RefusedError
from .hand import Wiring
from .mutants import NOP, Mutant, mutants, why_no_wrong
from .on_rp2040py import Rp2040pyBench
from .wirings import SOME

LONG = os.environ.get("HANDTICK_LONG") == "1"
_EVERY = 1 if LONG else 48
# Probes are wanted here: without, fewer mutants of what reads them are wrong.
WIRINGS = [Wiring(each.outputs, each.halt, each.inverted, each.dead_cycles) for each in SOME]


@pytest.mark.parametrize("wiring", WIRINGS, ids=str)
def test_every_wrong_instruction_is_found(wiring: Wiring) -> None:
    """Each mutant breaks a promise, or there is a reason why it does nothing wrong: then it breaks none."""
    astray = []
    for mutant in _chosen(wiring):
        reason = why_no_wrong(mutant)
        if _breaks_a_promise(mutant, wiring) == (reason is not None):
            astray.append(f"{mutant}: {reason or 'not found'}")
    assert not astray, "\n".join(astray)


def test_every_word_that_loads_is_needed() -> None:
    """With any of the words that load a burst replaced by one that does nothing, something is not as it was asked."""
    program = Wiring().program()
    loader = Loader(program, 0)
    # No five bits are like those before them.
    numbers = (
        0b00001_00110_01011_10000_10101_11011,
        0b10111_10110_10001_01100_00111_00010,
        0b00011_01001_11110_00100_11000_01101,
    )
    least_lead, least_trail = program.least(False)
    loader.set(numbers[0] + 1, numbers[1] + least_lead, numbers[2] + least_trail, False)
    for at in [None, *(at for at, word in enumerate(loader.words) if word != NOP)]:
        bench = Rp2040pyBench(program, 0)
        for _ in range(4):
            bench.push(0)
        words = list(loader.words)
        if at is not None:
            words[at] = NOP
        bench.force(words)
        as_asked = bench.registers == numbers and not bench.waiting_words and not bench.words and not bench.at_rest
        assert as_asked == (at is None), at


def test_reasons_are_documented() -> None:
    """The page about the clock engine lists every reason why a change to the program is no fault."""
    page = (Path(__file__).parents[2] / "docs/clock-engine.md").read_text(encoding="utf-8")
    reasons = {why_no_wrong(mutant) for wiring in WIRINGS for mutant in mutants(wiring.program())} - {None}
    assert [reason for reason in sorted(map(str, reasons)) if reason not in page] == []


def _chosen(wiring: Wiring) -> list[Mutant]:
    first = WIRINGS.index(wiring)
    every = list(mutants(wiring.program()))
    without = [each for each in every if each.word is None or each.word & 0xE0FF == NOP]
    changed = [each for each in every if each not in without]
    return without + changed[first % _EVERY :: _EVERY]


def _breaks_a_promise(mutant: Mutant, wiring: Wiring) -> bool:
    def make(**registers: int) -> Rp2040pyBench:
        return Rp2040pyBench(mutant.program, **registers)

    try:
        for traced in (False, True):
            claims.makes_exact_bursts(make, wiring, traced, random.Random(1), bursts=2)
        claims.samples_before_each_edge(make, wiring, random.Random(2))
        claims.stays_at_rest(make, wiring)
        claims.makes_edges_by_hand(make, wiring)
        for traced in (False, True):
            claims.steps_past_a_halt(make, wiring, traced)
            claims.obeys_a_waiting_word(make, wiring, traced)
            claims.obeys_the_halt_line(make, wiring, traced)
            claims.retimes_at_a_boundary(make, wiring, traced, random.Random(3))
        claims.waits_for_its_reader(make, wiring, random.Random(4))
    except (AssertionError, RefusedError):
        return True
    return False
