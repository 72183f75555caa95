"""Larch, the demonstration machine: one 8-bit bus, eight givers, sixteen takers, every tick one byte over the bus.

Everything is captured at the rising edge of the clock: the taker keeps what the giver has put on the bus, the machine
goes on to its next step, and from then on that step's giver drives the bus. So the early sample of a tick shows what
that tick carries out, and its late sample what the next one will.
"""

from __future__ import annotations

from collections.abc import Sequence

from handtick.virtual import larch_code as code

#: A week of rain-gauge tips, Monday first.
WEEK = (3, 0, 12, 7, 0, 21, 4)

_FETCH, _LITERAL, _MOVE = range(3)
# Giver, taker and fetch line as they stand on probes 8 to 15.
_FETCH_LINES = 0x8000 | code.PROGRAM << 8 | code.INSTRUCTION << 11
_LITERAL_LINES = code.PROGRAM << 8 | code.TO_OPERAND << 11
_MOVE_LINES = tuple((byte >> 5) << 8 | (byte >> 1 & 15) << 11 for byte in range(256))


class Larch:
    """The machine. Probes: 0-7 the bus, 8-10 the giver, 11-14 the taker, 15 high while an instruction is fetched.

    Args:
        program: up to 256 bytes; what lies beyond them reads as zero.
        gauge: the rain gauge's tips a day, 0 to 255 each, for up to 256 days.

    Raises:
        ValueError: the program or the gauge does not fit.

    Attributes:
        tally, operand, day, pointer: the registers, 0 to 255.
        scratch: the scratch memory, 256 bytes; reset does not clear it.
        counter: the program counter.
        zero, carry: what is kept of the last sum or difference.
        lamp: whether the lamp is lit.
        halted: the halt line.
    """

    __slots__ = (
        "_clock",
        "_gauge",
        "_in_reset",
        "_instruction",
        "_program",
        "_step",
        "carry",
        "counter",
        "day",
        "halted",
        "lamp",
        "operand",
        "pointer",
        "scratch",
        "tally",
        "zero",
    )

    def __init__(self, program: bytes, gauge: Sequence[int] = WEEK) -> None:
        if len(program) > code.MOST_BYTES:
            raise ValueError(f"a program of {len(program)} bytes is too long; {code.MOST_BYTES} is the most")
        if len(gauge) > 256:
            raise ValueError(f"a gauge of {len(gauge)} days is too long; 256 is the most")
        for day, tips in enumerate(gauge):
            if not 0 <= tips <= 255:
                raise ValueError(f"the gauge gives {tips} tips on day {day}; a day has 0 to 255")
        self._program = program.ljust(code.MOST_BYTES, b"\0")
        self._gauge = bytes(gauge).ljust(256, b"\0")
        self._clock = False
        self._in_reset = False
        self.scratch = bytearray(256)
        self._start()

    def set_clock(self, level: bool) -> None:
        """The clock line has this level from now on; a rising edge carries out one step."""
        if level and not self._clock and not self._in_reset and not self.halted:
            self._tick()
        self._clock = level

    def set_reset(self, asserted: bool) -> None:
        """The reset line; while it is asserted the machine stays at its start, whatever the clock does."""
        self._in_reset = asserted
        if asserted:
            self._start()

    def set_pull(self, way: str) -> None:
        """All of its lines are driven: a weak pull changes none of them."""

    def probes(self) -> int:
        """All probed lines now, bit k = probe k."""
        step = self._step
        if step == _FETCH:
            return _FETCH_LINES | self._given(code.PROGRAM)
        if step == _LITERAL:
            return _LITERAL_LINES | self._given(code.PROGRAM)
        return _MOVE_LINES[self._instruction] | self._given(self._instruction >> 5)

    def registers(self) -> int:
        """What is in its registers, eight bits each: program counter (the lowest), tally, operand, day, pointer."""
        return self.counter | self.tally << 8 | self.operand << 16 | self.day << 24 | self.pointer << 32

    def _start(self) -> None:
        self._step = _FETCH
        self._instruction = 0
        self.counter = self.tally = self.operand = self.day = self.pointer = 0
        self.zero = self.carry = self.lamp = self.halted = False

    def _tick(self) -> None:
        step = self._step
        if step == _MOVE:
            self._step = _FETCH
            self._move(self._instruction >> 5, self._instruction >> 1 & 15)
            return
        byte = self._given(code.PROGRAM)
        self.counter = (self.counter + 1) & 0xFF
        if step == _FETCH:
            self._instruction = byte
            self._step = _LITERAL if byte & 1 else _MOVE
        else:
            self.operand = byte
            self._step = _MOVE

    def _given(self, giver: int) -> int:
        if giver == code.TALLY:
            return self.tally
        if giver == code.SUM:
            return (self.tally + self.operand) & 0xFF
        if giver == code.LESS:
            return (self.tally - self.operand) & 0xFF
        if giver == code.OPERAND:
            return self.operand
        if giver == code.GAUGE:
            return self._gauge[self.day]
        if giver == code.DAY:
            return self.day
        if giver == code.SCRATCH:
            return self.scratch[self.pointer]
        return self._program[self.counter]

    def _move(self, giver: int, taker: int) -> None:
        value = self._given(giver)
        if giver == code.SUM:
            self.zero = value == 0
            self.carry = self.tally + self.operand > 0xFF
        elif giver == code.LESS:
            self.zero = value == 0
            self.carry = self.tally < self.operand
        elif giver == code.PROGRAM:
            self.counter = (self.counter + 1) & 0xFF
        self._take(taker, value)

    def _take(self, taker: int, value: int) -> None:
        if taker == code.TO_TALLY:
            self.tally = value
        elif taker == code.TO_OPERAND:
            self.operand = value
        elif taker == code.TO_DAY:
            self.day = value
        elif taker == code.TO_SCRATCH:
            self.scratch[self.pointer] = value
        elif taker == code.TO_POINTER:
            self.pointer = value
        elif taker == code.TO_LAMP:
            self.lamp = value != 0
        elif taker == code.HALT:
            self.halted = True
        elif taker == code.INSTRUCTION:
            # A byte moved there by a program is overwritten by the next fetch before it can do anything.
            self._instruction = value
        elif (
            taker == code.GO
            or (taker == code.GO_IF_ZERO and self.zero)
            or (taker == code.GO_IF_CARRY and self.carry)
            or (taker == code.GO_UNLESS_CARRY and not self.carry)
        ):
            self.counter = value
