"""A bench for the clock's PIO program: one state machine, cycle by cycle, on either of two emulators.

A bench adds to an emulator what the chip has around the state machine and the emulator lacks: the two flip-flops
between a pin and the machine (RP2040 datasheet 3.5.6.3), a place for the program, and what ``rp2pio`` sets up.

Time is counted in cycles of the system clock. An instruction that is executed in cycle n changes pins at the end of it,
which is what ``levels[n]`` has; a line driven before cycle n is seen by the instruction of cycle n + 2, and by none
before.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable

from handtick_board.clock_program import ClockProgram

CLOCK_PIN, HALT_PIN = 16, 20
MEMORY_WORDS = 32
#: Cycles from a level on a pin to an instruction that sees it.
SYNC_CYCLES = 2
PUSH_BITS = 16
SIDE = 0x1000
# Instructions below this are jumps.
FIRST_OTHER = 0x2000


class RefusedError(Exception):
    """The board's ``rp2pio`` would not take the program."""


class Bench:
    """A machine after its start, as the board makes it: at its first word, with its lines at rest.

    Args:
        program: the program; its attributes are read now.
        offset: where in the PIO block's memory it lies; as high as it fits where nothing is said.
        left_behind: what X, Y, ISR and OSR hold from an earlier program.
        halt: level of the halt line at the start.

    Attributes:
        halt: level of the halt line.
        probes: levels of sixteen probes.
        levels: the driven pins after each cycle so far, the clock pin the lowest bit.
        words: what came out of the RX FIFO.
        taking: whether words are taken from the RX FIFO as soon as they are there.
        events: what happens just before which cycle.
    """

    def __init__(
        self, program: ClockProgram, offset: int | None = None, left_behind: int = 0x2BAD5EED, halt: int = 0
    ) -> None:
        self.program = program
        self.offset = MEMORY_WORDS - len(program.words) if offset is None else offset
        for word in program.words:
            _check(word)
        self._left_behind = left_behind
        self.halt = halt
        self.probes = 0
        self.levels: list[int] = []
        self.words: list[int] = []
        self.taking = True
        self.events: dict[int, Callable[[], None]] = {}
        self._crossing: deque[int] = deque([halt << HALT_PIN] * SYNC_CYCLES)
        memory = [0] * MEMORY_WORDS
        for at, word in enumerate(program.words, self.offset):
            memory[at] = _moved(word, self.offset)
        self._set_up(memory)
        self.run()

    def run(self, cycles: int = 1) -> None:
        """Lets so many cycles pass."""
        for _ in range(cycles):
            if len(self.levels) in self.events:
                self.events.pop(len(self.levels))()
            self._crossing.append(self.probes | self.halt << HALT_PIN)
            self._cycle(self._crossing.popleft())
            if self.taking:
                self.words += self.taken()
            self.levels.append(self.pins)

    def run_to_rest(self, most_cycles: int) -> None:
        """Lets cycles pass until the machine is at ``idle``; fails when it takes longer."""
        for _ in range(most_cycles):
            self.run()
            if self.at_rest:
                return
        raise AssertionError(f"not at idle after {most_cycles} cycles")

    def force(self, words: Iterable[int]) -> None:
        """Runs instructions by hand, one a cycle."""
        self._force(list(words))

    @property
    def now(self) -> int:
        """Cycles so far."""
        return len(self.levels)

    @property
    def at_rest(self) -> bool:
        """Whether the next instruction is that of ``idle``."""
        return self.address == self.offset + self.program.idle

    # What each emulator does its own way.

    def _set_up(self, memory: list[int]) -> None:
        raise NotImplementedError

    def _cycle(self, inputs: int) -> None:
        raise NotImplementedError

    def _force(self, words: list[int]) -> None:
        raise NotImplementedError

    def push(self, word: int) -> None:
        """Puts a word into the TX FIFO."""
        raise NotImplementedError

    def taken(self) -> list[int]:
        """Empties the RX FIFO."""
        raise NotImplementedError

    @property
    def waiting_words(self) -> int:
        """How many words wait in the TX FIFO."""
        raise NotImplementedError

    @property
    def pins(self) -> int:
        """Levels of the driven pins now."""
        raise NotImplementedError

    @property
    def address(self) -> int:
        """Where the next instruction is."""
        raise NotImplementedError

    @property
    def registers(self) -> tuple[int, int, int]:
        """X, ISR and OSR."""
        raise NotImplementedError


def _moved(word: int, offset: int) -> int:
    """A word as it lies in memory: a jump goes to the program's place."""
    return word & ~31 | (word + offset) & 31 if word < FIRST_OTHER else word


def _check(word: int) -> None:
    """Refuses what ``rp2pio`` refuses: pins that the machine was not given."""
    kind, target = word >> 13, word >> 5 & 7
    if kind == 0b010 and target == 0 and word & 31 > 16:
        raise RefusedError(f"{word:04X} shifts in more pins than there are probes")
    if (kind == 0b101 and target == 0) or (kind in (0b011, 0b111) and target in (0, 4)):
        raise RefusedError(f"{word:04X} sets pins, and the machine has none to set but by side-set")
