"""The bench on ``rp2040-pio-emulator``, whose module is ``pioemu``."""

from __future__ import annotations

from dataclasses import replace

import pioemu
from pioemu.shift_register import ShiftRegister

from .bench import CLOCK_PIN, FIRST_OTHER, HALT_PIN, MEMORY_WORDS, PUSH_BITS, SIDE, Bench


class _Completed(list):  # type: ignore[type-arg]
    """A program for ``pioemu``, which knows neither side-set that is optional nor STATUS.

    A word without side-set is read as one that sets what is there already, and STATUS as the number it is now.
    """

    def __init__(self, words: list[int], pins: int) -> None:
        super().__init__(words)
        self._pins = pins
        self.levels = 0
        self.word_waits = False

    def __getitem__(self, at):  # type: ignore[no-untyped-def]
        word = super().__getitem__(at)
        if not word & SIDE:
            side = ((1 << self._pins) - 1) << (12 - self._pins)
            word = word & ~side | SIDE | self.levels << (12 - self._pins)
        if word & 0xE007 == 0xA005:
            word = word ^ 0x0006 if self.word_waits else word ^ 0x000E
        return word


class PioemuBench(Bench):
    """On ``rp2040-pio-emulator``."""

    def _set_up(self, memory: list[int]) -> None:
        program = self.program
        self._driven = (1 << program.pins) - 1
        self._inputs = 0
        self._memory = memory
        self._state = pioemu.State(
            pin_directions=self._driven << CLOCK_PIN,
            pin_values=program.rest << CLOCK_PIN,
            x_register=self._left_behind,
            y_register=self._left_behind,
            input_shift_register=ShiftRegister(self._left_behind, 0),
            output_shift_register=ShiftRegister(self._left_behind, 32),
        )
        self._start(memory, self.offset)

    def _start(self, words: list[int], at: int) -> None:
        """Goes on with the same machine at an address of some words."""
        self._state = replace(self._state, program_counter=at)
        self._completed = _Completed(words, self.program.pins)

        def inputs(state: pioemu.State) -> int:
            return self._inputs

        # The emulator looks at the type itself, not at its name.
        inputs.__annotations__["state"] = pioemu.State
        # The bit that says "this word has side-set" is to this emulator the level of one more pin.
        self._emulator = pioemu.emulate(
            self._completed,
            stop_when=lambda word, state: False,
            initial_state=self._state,
            input_source=inputs,
            auto_push=True,
            push_threshold=PUSH_BITS,
            shift_isr_right=False,
            side_set_base=CLOCK_PIN,
            side_set_count=self.program.pins + 1,
            jmp_pin=HALT_PIN,
            wrap_target=self.offset + self.program.wrap_target,
            wrap_top=self.offset + self.program.wrap if words is self._memory else len(words),
        )

    def _cycle(self, inputs: int) -> None:
        if self._state.clock > self.now:
            # An instruction that was drawn out is still being executed.
            return
        self._inputs = inputs
        self._completed.levels = self.pins
        self._completed.word_waits = bool(self._state.transmit_fifo)
        _, self._state = next(self._emulator)

    def _force(self, words: list[int]) -> None:
        at = self._state.program_counter
        while words:
            end = next((place for place, word in enumerate(words, 1) if word < FIRST_OTHER), len(words))
            some, words = words[:end], words[end:]
            # These lie behind the memory, so that a jump that is taken tells itself from one that is not.
            self._start([0] * MEMORY_WORDS + some, MEMORY_WORDS)
            self.run(len(some))
            if self.address < MEMORY_WORDS:
                at = self.address
        self._start(self._memory, at)

    def push(self, word: int) -> None:
        self._state.transmit_fifo.append(word)

    def taken(self) -> list[int]:
        fifo = self._state.receive_fifo
        return [fifo.popleft() for _ in range(len(fifo))]

    @property
    def waiting_words(self) -> int:
        return len(self._state.transmit_fifo)

    @property
    def pins(self) -> int:
        return self._state.pin_values >> CLOCK_PIN & self._driven

    @property
    def address(self) -> int:
        return self._state.program_counter

    @property
    def registers(self) -> tuple[int, int, int]:
        state = self._state
        return state.x_register, state.input_shift_register.contents, state.output_shift_register.contents
