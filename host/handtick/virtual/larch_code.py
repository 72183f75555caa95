"""Larch's names, its instruction bytes, and what a sampled step of it says.

An instruction byte is ``GGG TTTT L``: giver (3 bits), taker (4 bits), and whether a literal byte follows. It takes two
ticks: one fetches it, one moves a byte from giver to taker. A literal takes a tick between them, in which it is moved
from the program to the operand register.
"""

from collections.abc import Iterable
from typing import NamedTuple

PROGRAM, TALLY, SUM, GAUGE, DAY, SCRATCH, LESS, OPERAND = range(8)

NOWHERE, INSTRUCTION, TO_TALLY, TO_OPERAND, TO_DAY, TO_POINTER, TO_SCRATCH, TO_LAMP = range(8)
GO, GO_IF_ZERO, GO_IF_CARRY, GO_UNLESS_CARRY, HALT, TEST = range(8, 14)

#: Bytes in the program memory.
MOST_BYTES = 256

#: Giver: (name, what it puts on the bus).
GIVERS = (
    ("program", "the program memory's byte at the program counter, which then goes on by one"),
    ("tally", "the tally register"),
    ("sum", "tally plus operand, eight bits; keeps whether it was zero and whether it carried"),
    ("gauge", "the rain gauge's tips on the day in the day register; zero past the week"),
    ("day", "the day register"),
    ("scratch", "the scratch memory's byte at the pointer"),
    ("less", "tally less operand, eight bits; keeps whether it was zero and whether it borrowed"),
    ("operand", "the operand register"),
)

#: Taker: (name, what it does with the byte on the bus).
TAKERS = (
    ("nowhere", "lets it go by"),
    ("instruction", "keeps it as the instruction"),
    ("tally", "keeps it as the tally"),
    ("operand", "keeps it as the operand"),
    ("day", "keeps it as the day"),
    ("pointer", "keeps it as the pointer into the scratch memory"),
    ("scratch", "keeps it in the scratch memory at the pointer"),
    ("lamp", "lights the lamp if it is not zero"),
    ("go", "goes on with the program there"),
    ("go if zero", "goes on there if the last sum or difference was zero"),
    ("go if carry", "goes on there if the last sum carried or the last difference borrowed"),
    ("go unless carry", "goes on there if it did not"),
    ("halt", "halts: the halt line is asserted until reset"),
    ("test", "lets it go by; for a sum or difference wanted for its flags only"),
    ("spare 14", "lets it go by"),
    ("spare 15", "lets it go by"),
)

#: Giver, taker, and the literal: a byte, the name of a place, or None.
Line = tuple[int, int, int | str | None]


class Step(NamedTuple):
    """What one tick carried out: names of giver and taker, and the move in words."""

    giver: str
    taker: str
    text: str


def instruction(giver: int, taker: int, literal: bool = False) -> int:
    """The instruction byte.

    Raises:
        ValueError: there is no such giver or taker.
    """
    if not 0 <= giver < len(GIVERS):
        raise ValueError(f"there is no giver {giver}; 0 to {len(GIVERS) - 1} are")
    if not 0 <= taker < len(TAKERS):
        raise ValueError(f"there is no taker {taker}; 0 to {len(TAKERS) - 1} are")
    return giver << 5 | taker << 1 | literal


def assemble(lines: Iterable[Line | str]) -> bytes:
    """Makes a program of lines.

    Args:
        lines: (giver, taker, literal) with a literal of None, a byte, or the name of a place; or the name of the place
            at which the next instruction stands.

    Raises:
        ValueError: a place is not known or named twice, a literal is no byte, the program memory is a giver (it would
            give the next instruction away), or the program is longer than its memory.
    """
    places: dict[str, int] = {}
    wanted: list[tuple[int, str]] = []
    program = bytearray()
    for line in lines:
        if isinstance(line, str):
            if line in places:
                raise ValueError(f"two places are called {line!r}")
            places[line] = len(program)
            continue
        giver, taker, literal = line
        if giver == PROGRAM:
            raise ValueError(f"the program memory would give the byte after {instruction_words(taker << 1)!r} away")
        program.append(instruction(giver, taker, literal is not None))
        if isinstance(literal, str):
            wanted.append((len(program), literal))
            program.append(0)
        elif literal is not None:
            if not 0 <= literal <= 255:
                raise ValueError(f"literal {literal} is no byte")
            program.append(literal)
    if len(program) > MOST_BYTES:
        raise ValueError(f"a program of {len(program)} bytes is too long; {MOST_BYTES} is the most")
    for at, place in wanted:
        if place not in places:
            raise ValueError(f"no place is called {place!r}")
        # A place after the very last byte is the start again: the program counter goes round.
        program[at] = places[place] % MOST_BYTES
    return bytes(program)


def listing(program: bytes) -> list[tuple[int, str, str]]:
    """Reads a program back: (address, bytes in hexadecimal, the instruction in words) of each instruction."""
    rows = []
    at = 0
    while at < len(program):
        byte = program[at]
        words = instruction_words(byte)
        if byte & 1 and at + 1 < len(program):
            rows.append((at, f"{byte:02X} {program[at + 1]:02X}", f"{words}, operand {program[at + 1]}"))
        else:
            rows.append((at, f"{byte:02X}", words))
        at += 1 + (byte & 1)
    return rows


def instruction_words(byte: int) -> str:
    """An instruction byte in words, without its literal."""
    return f"{GIVERS[byte >> 5][0]} -> {TAKERS[byte >> 1 & 15][0]}"


def decode_step(early: int) -> Step:
    """What the tick with this early sample carried out; see ``larch.Larch`` for what is on which probe."""
    bus, giver, taker = early & 0xFF, early >> 8 & 7, early >> 11 & 15
    giver_name, taker_name = GIVERS[giver][0], TAKERS[taker][0]
    if early & 0x8000:
        text = f"fetch: {instruction_words(bus)}" + (" with a literal" if bus & 1 else "")
    elif giver == PROGRAM and taker == TO_OPERAND:
        text = f"literal {bus}"
    else:
        text = f"{giver_name} {bus} -> {taker_name}"
    return Step(giver_name, taker_name, text)


def instruction_table() -> str:
    """Givers and takers as Markdown tables."""
    rows = ["| bits | giver | puts on the bus |", "|---|---|---|"]
    rows += [f"| {code:03b} | {name} | {what} |" for code, (name, what) in enumerate(GIVERS)]
    rows += ["", "| bits | taker | what it does with the byte |", "|---|---|---|"]
    rows += [f"| {code:04b} | {name} | {what} |" for code, (name, what) in enumerate(TAKERS)]
    return "\n".join(rows) + "\n"
