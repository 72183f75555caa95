"""Simulated shift registers with parallel inputs, chained as on a breadboard: what the firmware's three pins meet."""

from __future__ import annotations

from collections.abc import Callable

_STAGES = 8


class ShiftRegister:
    """One chip, as the function table of a 74HC165's data sheet has it, its clock inhibit low.

    Args:
        inputs: gives the levels at its inputs, bit k = input k (A to H in the sheet).
        serial: gives the level at its serial input.

    Attributes:
        load: the shift/load pin: low, the stages follow the inputs, whatever the clock does; high, they shift.
    """

    def __init__(self, inputs: Callable[[], int], serial: Callable[[], bool]) -> None:
        self.load = True
        self._inputs = inputs
        self._serial = serial
        self._stages = 0

    @property
    def output(self) -> bool:
        """QH: the level of the last stage."""
        return bool(self._now() >> _STAGES - 1 & 1)

    def set_load(self, level: bool) -> None:
        """The shift/load pin moves; rising, the stages keep what the inputs were."""
        self._stages = self._now()
        self.load = level

    def incoming(self) -> bool:
        """What the first stage takes at a rising edge of the clock that came now."""
        return self._serial()

    def shift(self, incoming: bool) -> None:
        """A rising edge of the clock: every stage takes what was in the one before it."""
        if self.load:
            self._stages = (self._stages << 1 | incoming) & (1 << _STAGES) - 1

    def _now(self) -> int:
        return self._stages if self.load else self._inputs() & (1 << _STAGES) - 1


class ChainOfChips:
    """Chips in a chain, each one's output at the serial input of the one before it; the last one's is tied high.

    Args:
        count: how many chips are on the breadboard.
        inputs: gives the levels at all their inputs: bit k is input k % 8 of chip k // 8, the nearest chip first.

    Attributes:
        load, clock: pins that the board drives; ``data``: the pin that it reads.
        cut: the chip, counted from 0, whose output wire has come off, so that what it goes to reads low; None for none.
    """

    def __init__(self, count: int, inputs: Callable[[], int]) -> None:
        self.cut: int | None = None
        self._inputs = inputs
        self._chips: list[ShiftRegister] = [
            ShiftRegister(lambda n=number: self._inputs() >> _STAGES * n, lambda n=number: self._arrives(n + 1))  # type: ignore[misc]
            for number in range(count)
        ]
        self.load = Wire(True, self._load)
        self.clock = Wire(False, self._clock)
        self.data = Sense(lambda: self._arrives(0))

    def _arrives(self, number: int) -> bool:
        """The level where the output of a chip goes to; beyond the last one, the tie."""
        if number == len(self._chips):
            return True
        return self.cut != number and self._chips[number].output

    def _load(self, level: bool) -> None:
        for chip in self._chips:
            chip.set_load(level)

    def _clock(self, level: bool) -> None:
        if level:
            incoming = [chip.incoming() for chip in self._chips]
            for chip, bit in zip(self._chips, incoming, strict=True):
                chip.shift(bit)


class Wire:
    """An output of the board; ``moved`` is called when its level changes."""

    def __init__(self, level: bool, moved: Callable[[bool], None]) -> None:
        self._level = level
        self._moved = moved

    @property
    def value(self) -> bool:
        """The level."""
        return self._level

    @value.setter
    def value(self, level: bool) -> None:
        if level != self._level:
            self._level = level
            self._moved(level)


class Sense:
    """An input of the board, at the level that ``level`` gives."""

    def __init__(self, level: Callable[[], bool]) -> None:
        self._level = level

    @property
    def value(self) -> bool:
        """The level now."""
        return self._level()
