"""Benches for the ready line's PIO program: the clock, the line that says when it is ignored, and the ready pin."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import replace

import pioemu
from rp2040py.rp2040 import RP2040

from handtick_board.ready_program import ReadyProgram

from .bench import FIRST_OTHER, MEMORY_WORDS, SIDE, SYNC_CYCLES

READY, CLOCK, WRITES = 27, 16, 9
#: Every pin but those three.
OTHERS = ((1 << 30) - 1) & ~(1 << READY | 1 << CLOCK | 1 << WRITES)
_SIDE_LEVEL = 0x0800
_INPUT_ENABLE = 0x40


class ReadyBench:
    """One state machine, at ``idle`` with the machine ready.

    Args:
        program: the program, at the end of the memory.
        clock: the clock's level at the start.

    Attributes:
        clock, writes: levels of the two lines that are looked at.
        others: levels of all others, as a mask of pins.
        levels: the ready pin after each cycle.
        words: what was handed out.
    """

    def __init__(self, program: ReadyProgram, clock: int = 0) -> None:
        self.program = program
        self.offset = MEMORY_WORDS - len(program.words)
        self.clock, self.writes, self.others = clock, 0, 0
        self.levels: list[int] = []
        self.words: list[int] = []
        self._crossing = deque([clock << CLOCK] * SYNC_CYCLES)
        memory = [0] * self.offset + [word + self.offset if word < FIRST_OTHER else word for word in program.words]
        self._set_up(memory)
        self.force(program.give_up(self.offset))

    def run(self, cycles: int = 1) -> None:
        """Lets so many cycles pass."""
        for _ in range(cycles):
            self._crossing.append(self.clock << CLOCK | self.writes << WRITES | self.others)
            self._cycle(self._crossing.popleft())
            self.words += self._taken()
            self.levels.append(self.pin)

    def force(self, words: Iterable[int]) -> None:
        """Runs instructions by hand, one a cycle."""
        for word in words:
            self._force(word)

    @property
    def busy(self) -> bool:
        """Whether it is anywhere but at ``idle``."""
        return self.address != self.offset + self.program.idle

    # What each emulator does its own way.

    def _set_up(self, memory: list[int]) -> None:
        raise NotImplementedError

    def _cycle(self, inputs: int) -> None:
        raise NotImplementedError

    def _force(self, word: int) -> None:
        raise NotImplementedError

    def _taken(self) -> list[int]:
        raise NotImplementedError

    @property
    def pin(self) -> int:
        """Level of the ready pin."""
        raise NotImplementedError

    @property
    def address(self) -> int:
        """Where the next instruction is."""
        raise NotImplementedError


class OnRp2040py(ReadyBench):
    """On the PIO of ``rp2040py``, through the chip's registers (RP2040 datasheet 3.7)."""

    _chip: RP2040 | None = None

    def _set_up(self, memory: list[int]) -> None:
        if OnRp2040py._chip is None:
            OnRp2040py._chip = RP2040()
            # With something in this place, the block leaves the pace to us.
            OnRp2040py._chip.simulator = object()
            for pin in OnRp2040py._chip.gpio:
                pin.pad_value |= _INPUT_ENABLE
        self._gpio = OnRp2040py._chip.gpio
        self._pio = OnRp2040py._chip.pio[0]
        self._pio.reset()
        self._machine = self._pio.machines[0]
        self._inputs = 0
        for number in range(30):
            self._gpio[number].set_input_value(False)
        write = self._pio.write_uint32
        for at, word in enumerate(memory):
            write(0x048 + 4 * at, word)
        self._pio.pin_directions_changed(1, READY, 1)
        write(0x0CC, 1 << 30 | (self.offset + self.program.wrap) << 12 | self.offset << 7)
        write(0x0D0, 1 << 19 | 1 << 18 | 1 << 16)
        write(0x0DC, 2 << 29 | READY << 15 | READY << 10)
        write(0x0D8, self.offset)
        write(0x000, 1 << 8 | 1)

    def _cycle(self, inputs: int) -> None:
        changed = self._inputs ^ inputs
        for number in range(30) if changed else ():
            if changed >> number & 1:
                self._gpio[number].set_input_value(bool(inputs >> number & 1))
        self._inputs = inputs
        self._pio.advance(1)

    def _force(self, word: int) -> None:
        self._pio.write_uint32(0x0D8, word)
        self.run()

    def _taken(self) -> list[int]:
        machine = self._machine
        return [machine.read_fifo() & 0xFFFFFFFF for _ in range(machine.rx_fifo.item_count)]

    @property
    def pin(self) -> int:
        return self._pio.pin_values >> READY & 1

    @property
    def address(self) -> int:
        return self._machine.pc


class _Completed(list):  # type: ignore[type-arg]
    """Words without side-set as ones that set what is there: this emulator knows no other."""

    level = 0

    def __getitem__(self, at):  # type: ignore[no-untyped-def]
        word = super().__getitem__(at)
        return word if word & SIDE else word | SIDE | self.level * _SIDE_LEVEL


class OnPioemu(ReadyBench):
    """On ``rp2040-pio-emulator``, module ``pioemu``; what it reads is turned so that the ready pin comes first."""

    def _set_up(self, memory: list[int]) -> None:
        self._memory = memory
        self._inputs = 0
        self._state = pioemu.State(pin_directions=1 << READY)
        self._start(memory, self.offset)

    def _start(self, words: list[int], at: int) -> None:
        self._state = replace(self._state, program_counter=at)
        self._completed = _Completed(words)

        def inputs(state: pioemu.State) -> int:
            return self._inputs

        # The emulator looks at the type itself, not at its name.
        inputs.__annotations__["state"] = pioemu.State
        self._emulator = pioemu.emulate(
            self._completed,
            stop_when=lambda word, state: False,
            initial_state=self._state,
            input_source=inputs,
            auto_push=True,
            push_threshold=32,
            # The bit that says "this word has side-set" is to this emulator the level of one more pin.
            side_set_base=READY,
            side_set_count=2,
            wrap_target=self.offset,
            wrap_top=self.offset + self.program.wrap if words is self._memory else len(words),
        )

    def _cycle(self, inputs: int) -> None:
        whole = inputs | self.pin << READY
        self._inputs = (whole >> READY | whole << (32 - READY)) & 0xFFFFFFFF
        self._completed.level = self.pin
        _, self._state = next(self._emulator)

    def _force(self, word: int) -> None:
        at = self._state.program_counter
        # It lies behind the memory, so that a jump that is taken tells itself from one that is not.
        self._start([0] * MEMORY_WORDS + [word], MEMORY_WORDS)
        self.run()
        self._start(self._memory, self.address if self.address < MEMORY_WORDS else at)

    def _taken(self) -> list[int]:
        fifo = self._state.receive_fifo
        return [fifo.popleft() for _ in range(len(fifo))]

    @property
    def pin(self) -> int:
        return self._state.pin_values >> READY & 1

    @property
    def address(self) -> int:
        return self._state.program_counter
