"""Programs that are wrong in one instruction, and why some of them are not wrong after all."""

from __future__ import annotations

import array
import copy
from collections.abc import Iterator
from dataclasses import dataclass

from handtick_board.clock_program import ClockProgram

_JMP, _WAIT, _IN, _OUT, _PUSH_PULL, _MOV, _IRQ, _SET = range(8)
NOP, _STATUS, _REVERSED, _JMP_Y = 0xA042, 0xA045, 0x0010, 0x0080
_SIDE, _UPPER = 0x1000, 0x1F00
_ADDRESS = 31
# Conditions of jumps.
_UNLESS_X, _LOOKS_AT_Y = 2, (3, 4, 5)
_WAIT_FOR_CLEAR_FLAG = 0x2042


@dataclass(frozen=True)
class Mutant:
    """A program with another word in a place, or, where ``word`` is None, without that place."""

    program: ClockProgram
    at: int
    old: int
    word: int | None

    def __str__(self) -> str:
        return f"{self.at}: {self.old:04X} " + ("deleted" if self.word is None else f"is {self.word:04X}")


def mutants(program: ClockProgram) -> Iterator[Mutant]:
    """Every instruction made one that does nothing, deleted, and with each bit the other way where that is legal."""
    for at, old in enumerate(program.words):
        for word in [old & _UPPER | NOP, *(old ^ 1 << bit for bit in range(16))]:
            if word != old and is_legal(word, len(program.words)):
                changed = copy.copy(program)
                changed.words = array.array("H", program.words)
                changed.words[at] = word
                yield Mutant(changed, at, old, word)
        yield Mutant(_without(program, at), at, old, None)


def is_legal(word: int, length: int) -> bool:
    """Whether a word is an instruction of the RP2040 (datasheet 3.4) that stays within a program of that length."""
    kind, upper, lower = word >> 13, word >> 5 & 7, word & 31
    if kind == _JMP:
        return lower < length
    if kind == _WAIT:
        return upper & 3 != 3
    if kind == _IN:
        return upper not in (4, 5)
    if kind == _PUSH_PULL:
        return lower == 0
    if kind == _MOV:
        return upper != 3 and lower >> 3 != 3 and lower & 7 != 4
    if kind == _IRQ:
        return not upper & 4
    if kind == _SET:
        return upper in (0, 1, 2, 4)
    return True


def why_no_wrong(mutant: Mutant) -> str | None:
    """The reason why a mutant does what the program does, as far as anybody can ask; None for one that is wrong."""
    if mutant.word is None:
        return None
    old, word, program = mutant.old, mutant.word, mutant.program
    changed = old ^ word
    if not word & _SIDE and changed & ~_level_bits(program) == 0:
        return "levels of a word without side-set are not driven"
    if changed == _SIDE and word & _level_bits(program) == _levels_at(program, mutant.at):
        return "side-set to the levels that are there"
    if old & ~_UPPER == NOP and changed & _UPPER == 0 and _only_writes_y(word) and _y_is_idle(program, mutant.at):
        return "Y is written again before it is read"
    if old & ~_UPPER == NOP and word & ~_UPPER == _WAIT_FOR_CLEAR_FLAG:
        return "waits for a flag to be clear, which nobody sets"
    if old & ~_UPPER == _STATUS and changed == _REVERSED:
        return "all ones or all zeros, reversed, are the same"
    if _is_probes(old) and word & 31 == 0:
        return "32 probes, of which the lower 16 are looked at"
    if old == program.idle and changed & _UPPER == changed and not word & _SIDE:
        return "drawn out where nothing follows"
    if old == program.idle and word == _JMP_Y | old and mutant.at not in (0, program.idle):
        return "Y is all ones here: no word waits"
    if old >> 13 == _JMP and changed & ~31 == 0 and mutant.at != program.idle and _leads_on_to_idle(mutant):
        return "by way of another jump to idle"
    return None


def _leads_on_to_idle(mutant: Mutant) -> bool:
    """Whether a jump to idle goes instead, in time, to another one that is then taken too."""
    words, old = mutant.program.words, mutant.old
    assert mutant.word is not None
    if old & 31 != mutant.program.idle:
        return False
    at = mutant.word & 31
    if old == mutant.program.idle:
        # After the line was asked, a cycle more would be too late.
        return mutant.at == 0 and words[at] == old
    return words[at] in (old, mutant.program.idle) or (words[at] == _STATUS and words[at + 1] == old)


def _levels_at(program: ClockProgram, at: int) -> int | None:
    """The levels that the lines have before an instruction, as bits of a word; None where they may be any."""
    if at == program.idle:
        return None
    rest = program.rest << (12 - program.pins)
    first = program.idle + 1 if at > program.idle else 1
    driven = [word & _level_bits(program) for word in program.words[first:at] if word & _SIDE]
    return driven[-1] if driven else rest


def _y_is_idle(program: ClockProgram, at: int) -> bool:
    """Whether nothing after an instruction of a loop reads what Y holds there."""
    for word in program.words[at + 1 :]:
        if word >> 13 == _JMP and word >> 5 & 7 == _UNLESS_X:
            return True
        if word & ~_UPPER == NOP:
            continue
        if _only_writes_y(word):
            return True
        if word >> 13 == _JMP and word >> 5 & 7 in _LOOKS_AT_Y:
            return False
    return True


def _only_writes_y(word: int) -> bool:
    return word & 0xE0E0 in (0xA040, 0xE040)


def _is_probes(word: int) -> bool:
    return word & 0xE0E0 == 0x4000


def _level_bits(program: ClockProgram) -> int:
    return ((1 << program.pins) - 1) << (12 - program.pins)


def _levels_before(program: ClockProgram, at: int) -> int:
    """The side-set levels that the lines have before an instruction, as bits of a word."""
    rest = program.rest << (12 - program.pins)
    first = program.idle + 1 if at > program.idle else 1
    driven = [word & _level_bits(program) for word in program.words[first:at] if word & _SIDE]
    return driven[-1] if driven and at not in (0, program.idle) else rest


def _without(program: ClockProgram, at: int) -> ClockProgram:
    """The program without one instruction; jumps go where they went."""

    def moved(address: int) -> int:
        return address - 1 if address > at else address

    changed = copy.copy(program)
    changed.words = array.array(
        "H",
        [
            word & ~_ADDRESS | moved(word & _ADDRESS) if word >> 13 == _JMP else word
            for place, word in enumerate(program.words)
            if place != at
        ],
    )
    changed.idle, changed.wrap_target, changed.wrap = map(moved, (program.idle, program.wrap_target, program.wrap))
    return changed
