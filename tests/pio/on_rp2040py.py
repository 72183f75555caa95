"""The bench on the PIO of ``rp2040py``."""

from __future__ import annotations

from collections import deque

from rp2040py.rp2040 import RP2040

from .bench import CLOCK_PIN, HALT_PIN, PUSH_BITS, Bench

# Registers of a PIO block and of its first state machine (RP2040 datasheet 3.7).
_CTRL, _MEMORY = 0x000, 0x048
_EXECCTRL, _SHIFTCTRL, _INSTR, _PINCTRL = 0x0CC, 0x0D0, 0x0D8, 0x0DC

# A bit of a pin's pad register (2.19.6.3).
_INPUT_ENABLE = 0x40


class Rp2040pyBench(Bench):
    """On the PIO of ``rp2040py``, told what to do through the chip's registers.

    A chip takes long to make, so that there is one for all benches; the last one made has it.
    """

    _chip: RP2040 | None = None
    _owner: Bench | None = None

    def _set_up(self, memory: list[int]) -> None:
        if Rp2040pyBench._chip is None:
            Rp2040pyBench._chip = RP2040()
            # With something in this place, the block leaves the pace to us.
            Rp2040pyBench._chip.simulator = object()
            for pin in Rp2040pyBench._chip.gpio:
                pin.pad_value |= _INPUT_ENABLE
        Rp2040pyBench._owner = self
        program = self.program
        self._pio = Rp2040pyBench._chip.pio[0]
        self._gpio = Rp2040pyBench._chip.gpio
        self._pio.reset()
        self._machine = self._pio.machines[0]
        self._by_hand: deque[int] = deque()
        self._driven = (1 << program.pins) - 1
        self._inputs = 0
        for number in range(30):
            self._gpio[number].set_input_value(False)
        write = self._pio.write_uint32
        for at, word in enumerate(memory):
            write(_MEMORY + 4 * at, word)
        self._pio.pin_values_changed(program.rest, CLOCK_PIN, program.pins)
        self._pio.pin_directions_changed(self._driven, CLOCK_PIN, program.pins)
        wrap = (self.offset + program.wrap) << 12 | (self.offset + program.wrap_target) << 7
        write(_EXECCTRL, 1 << 30 | HALT_PIN << 24 | wrap | 1)
        write(_SHIFTCTRL, PUSH_BITS << 20 | 1 << 19 | 1 << 16)
        write(_PINCTRL, (program.pins + 1) << 29 | CLOCK_PIN << 10)
        write(_INSTR, self.offset)
        machine = self._machine
        machine.x = machine.y = machine.input_shift_reg = machine.output_shift_reg = self._left_behind
        # On, and its clock divider from its beginning: it would be a cycle behind otherwise.
        write(_CTRL, 1 << 8 | 1)

    def _cycle(self, inputs: int) -> None:
        assert Rp2040pyBench._owner is self
        changed = self._inputs ^ inputs
        self._inputs = inputs
        while changed:
            number = changed.bit_length() - 1
            changed ^= 1 << number
            self._gpio[number].set_input_value(bool(inputs >> number & 1))
        self._pio.advance(1)
        if self._by_hand:
            self._pio.write_uint32(_INSTR, self._by_hand.popleft())

    def _force(self, words: list[int]) -> None:
        self._by_hand.extend(words)
        self.run(len(words))

    def push(self, word: int) -> None:
        self._machine.write_fifo(word)

    def taken(self) -> list[int]:
        machine = self._machine
        return [machine.read_fifo() for _ in range(machine.rx_fifo.item_count)]

    @property
    def waiting_words(self) -> int:
        return self._machine.tx_fifo.item_count

    @property
    def pins(self) -> int:
        return self._pio.pin_values >> CLOCK_PIN & self._driven

    @property
    def address(self) -> int:
        return self._machine.pc

    @property
    def registers(self) -> tuple[int, int, int]:
        machine = self._machine
        return machine.x, machine.input_shift_reg & 0xFFFFFFFF, machine.output_shift_reg & 0xFFFFFFFF
