"""A stand-in for ``rp2pio`` whose state machine is on a bench, so that the board's own line runs the program there."""

from __future__ import annotations

import random
from collections.abc import Iterable, MutableSequence

from handtick_board.clock_program import ClockProgram

from .bench import Bench


class Rp2pio:
    """The module.

    Args:
        kind: the emulator.
        program: what it will be given.
        rng: says how many cycles each call takes.
        most_cycles: the most that one takes.
    """

    def __init__(self, kind: type[Bench], program: ClockProgram, rng: random.Random, most_cycles: int) -> None:
        self._kind = kind
        self._program = program
        self._rng = rng
        self._most_cycles = most_cycles
        self.settings: dict[str, object] = {}

    def StateMachine(self, words: Iterable[int], **settings: object) -> StandIn:  # noqa: N802
        """The machine, started."""
        assert list(words) == list(self._program.words)
        self.settings = settings
        self.machine = StandIn(self._kind(self._program), self._rng, self._most_cycles)
        return self.machine


class StandIn:
    """What the board's line uses of ``rp2pio.StateMachine``; every call takes its time."""

    def __init__(self, bench: Bench, rng: random.Random, most_cycles: int) -> None:
        self.bench = bench
        self.offset = bench.offset
        self._rng = rng
        self._most_cycles = most_cycles
        self._memory: MutableSequence[int] | None = None
        self._filled = 0

    @property
    def pc(self) -> int:
        """Where the next instruction is."""
        self._spend()
        return self.bench.address

    @property
    def reading(self) -> bool:
        """Whether the memory is not full yet."""
        self._spend()
        return self._memory is not None and self._filled < len(self._memory)

    def run(self, instructions: Iterable[int]) -> None:
        """Runs instructions by hand."""
        self._spend()
        self.bench.force(instructions)

    def background_read(self, once: MutableSequence[int]) -> None:
        """Fills a memory, once."""
        self._spend()
        assert self.bench.words == []
        self._memory, self._filled = once, 0

    def stop_background_read(self) -> None:
        """Leaves the memory as it is."""
        self._spend()
        self._memory = None

    def background_write(self, once: Iterable[int]) -> None:
        """Puts words into the FIFO."""
        self._spend()
        for word in once:
            self.bench.push(word)

    def readinto(self, buffer: MutableSequence[int]) -> None:
        """Waits for as many words as the buffer holds."""
        self._spend()
        for at in range(len(buffer)):
            buffer[at] = self.bench.words.pop(0)

    def _spend(self) -> None:
        self.bench.run(self._rng.randint(1, self._most_cycles))
        while self._memory is not None and self.bench.words and self._filled < len(self._memory):
            self._memory[self._filled] = self.bench.words.pop(0) & 0xFFFF
            self._filled += 1
