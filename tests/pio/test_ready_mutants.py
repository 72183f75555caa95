"""Every instruction of the ready line's program is needed: without it, or with another, it breaks a tested promise.

How far an instruction is drawn out is left as it is: what that does is in two figures, the latest move and the shortest
phase. ``HANDTICK_LONG=1`` tries every other mutant; without, those that lack an instruction and a part of the others.
"""

from __future__ import annotations

import os
from functools import partial

import pytest

from handtick_board.ready_program import MOST_CYCLES

from . import ready_claims as claims
from .mutants import NOP, Mutant, mutants
from .ready_bench import WRITES, OnRp2040py
from .ready_claims import WRITING, ReadyWiring

_EVERY = 1 if os.environ.get("HANDTICK_LONG") == "1" else 12
_SIDE, _LEVEL, _DRAWN_OUT = 0x1000, 0x0800, 0x0700
_OUT_TO, _OUT_NOWHERE, _OUT_TO_X = 0xE0E0, 0x6060, 0x6020
_MOV_X_ISR, _REVERSED = 0xA026, 0x0010
_JUMP_X, _JUMP_Y = 0x0040, 0x0080


@pytest.mark.parametrize("wiring", [WRITING, ReadyWiring(False, False, WRITES, False)], ids=str)
def test_every_wrong_instruction_is_found(wiring: ReadyWiring) -> None:
    """Each mutant breaks a promise, or there is a reason why it does nothing wrong: then it breaks none."""
    astray = []
    for mutant in chosen(wiring):
        reason = why_no_wrong(mutant)
        if breaks_a_promise(mutant, wiring) == (reason is not None):
            astray.append(f"{mutant}: {reason or 'not found'}")
    assert not astray, "\n".join(astray)


def chosen(wiring: ReadyWiring) -> list[Mutant]:
    """The mutants to be tried."""
    every = [each for each in mutants(wiring.program()) if each.word is None or not (each.old ^ each.word) & _DRAWN_OUT]
    without = [each for each in every if each.word is None or each.word & 0xE0FF == NOP]
    return without + [each for each in every if each not in without][::_EVERY]


def breaks_a_promise(mutant: Mutant, wiring: ReadyWiring) -> bool:
    """Whether any claim about the program fails."""
    make = partial(OnRp2040py, mutant.program)
    try:
        claims.counts_cycles_not_held(make, wiring, (True, True, False))
        claims.stays_ready_once_let_go(make, wiring)
        claims.can_be_given_up(make, wiring)
        return claims.step_is_ready_at_one_edge(make, wiring) != MOST_CYCLES
    except AssertionError:
        return True


def why_no_wrong(mutant: Mutant) -> str | None:
    """The reason why a mutant does what the program does, as far as anybody can ask; None for one that is wrong."""
    old, word, program = mutant.old, mutant.word, mutant.program
    if word is None:
        return None
    changed = old ^ word
    if changed == _LEVEL and not word & _SIDE:
        return "levels of a word without side-set are not driven"
    if changed == word & _SIDE and bool(word & _LEVEL) == level_around(mutant):
        return "side-set to the level that is there, or comes next"
    if old & _OUT_TO == _OUT_NOWHERE and word & _OUT_TO == _OUT_TO_X:
        return "X is written again before it is read"
    if old & _OUT_TO == _MOV_X_ISR & _OUT_TO and changed == _REVERSED:
        return "all ones or all zeros, reversed, are the same"
    if old == program.idle and mutant.at > 0 and word in (_JUMP_X | old, _JUMP_Y | old):
        return "X and Y are all ones here"
    return None


def level_around(mutant: Mutant) -> bool | None:
    """The level that the ready line has at an instruction, or at the one that is next to move it; None where any."""
    words = mutant.program.words
    make_ready, hold = (at for at, word in enumerate(words) if word & _SIDE and at != mutant.at)
    if mutant.at in (make_ready - 1, *range(hold + 1, len(words))):
        return bool(words[hold] & _LEVEL)
    return bool(words[make_ready] & _LEVEL) if make_ready < mutant.at < hold else None
