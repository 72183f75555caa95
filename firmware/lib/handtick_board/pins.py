"""Pins on ``digitalio``: the rim between the board's decisions and real levels, on any board that CircuitPython or
Blinka knows."""

from __future__ import annotations

import digitalio

from .chain import ChainedProbes

_PULLS = {"down": digitalio.Pull.DOWN, "up": digitalio.Pull.UP, "none": None}


class Output:
    """A driven pin, high or low from the moment it is driven.

    Args:
        pin: the pin.
        level: the level at the far end at first.
        inverted: whether the far end sees the complement.
    """

    def __init__(self, pin, level: bool, inverted: bool = False) -> None:
        self._inverted = inverted
        self._level = level
        self._pin = digitalio.DigitalInOut(pin)
        self._pin.switch_to_output(level != inverted)

    @property
    def value(self) -> bool:
        """The level at the far end."""
        return self._level

    @value.setter
    def value(self, level: bool) -> None:
        self._pin.value = level != self._inverted
        self._level = level


class Input:
    """A pin read; ``value`` is true while it is at its active level.

    Args:
        pin: the pin.
        active_low: whether low is the active level; the weak pull goes the other way.
    """

    def __init__(self, pin, active_low: bool) -> None:
        self._active_low = active_low
        self._pin = digitalio.DigitalInOut(pin)
        self._pin.switch_to_input(digitalio.Pull.UP if active_low else digitalio.Pull.DOWN)

    @property
    def value(self) -> bool:
        """Whether the line is asserted now."""
        return self._pin.value != self._active_low


class Nothing:
    """Stands in for a line that has no pin: takes any level, reads as not asserted, all probes zero."""

    value = False
    disagreed = False

    def read(self) -> int:
        """No probe is high."""
        return 0

    def pull(self, way: str) -> None:
        """There is nothing to pull."""


def with_chain(direct, direct_count: int, pins, chips: int) -> ChainedProbes:
    """Probes on pins and those of a chain; ``pins`` are the chain's load, clock and data."""
    load, clock, data = pins
    return ChainedProbes(direct, direct_count, Output(load, True), Output(clock, False), Input(data, False), chips)


class Supply:
    """The machine's supply, halved by two equal resistors on an analogue pin.

    Args:
        reading: an ``analogio.AnalogIn``.
    """

    def __init__(self, reading) -> None:
        self._reading = reading

    def read_mv(self) -> int:
        """Millivolts, before the halving."""
        return self._reading.value * 6600 // 65535


class ProbesOneByOne:
    """Probes on any pins, read one after the other, twice; a bit that differs between the two is not to be trusted.

    Attributes:
        disagreed: whether the two reads of the last sample differed.
    """

    at_once = False

    def __init__(self, pins, pull: str) -> None:
        self.disagreed = False
        self._pins = []
        for pin in pins:
            probe = digitalio.DigitalInOut(pin)
            probe.switch_to_input(_PULLS[pull])
            self._pins.append(probe)

    def read(self) -> int:
        """All probes as one number, probe 0 the lowest bit; the second of the two reads."""
        first = self._read()
        second = self._read()
        self.disagreed = first != second
        return second

    def pull(self, way: str) -> None:
        """Pulls every probe "up", "down" or, with "none", not at all."""
        for pin in self._pins:
            pin.pull = _PULLS[way]

    def _read(self) -> int:
        value = 0
        bit = 1
        for pin in self._pins:
            if pin.value:
                value |= bit
            bit <<= 1
        return value


class ProbesAtOnce:
    """Probes on GP0 upwards of an RP2 chip, read in one instruction from the register of all pin levels.

    Args:
        pins: pins from GP0 on, in order.
        pull: "down", "up" or "none".
        levels: an object whose ``[0:4]`` gives the four bytes of the level register.
    """

    at_once = True
    disagreed = False

    def __init__(self, pins, pull: str, levels) -> None:
        # Held so that the pins stay inputs with their pulls.
        self._pins = ProbesOneByOne(pins, pull)
        self._levels = levels
        self._mask = (1 << len(pins)) - 1

    def read(self) -> int:
        """All probes as one number, probe 0 the lowest bit."""
        levels = self._levels[0:4]
        return (levels[0] | levels[1] << 8) & self._mask

    def pull(self, way: str) -> None:
        """Pulls every probe "up", "down" or, with "none", not at all."""
        self._pins.pull(way)


class NoContact:
    """No tick button at all."""

    waiting = False

    def edges(self, now_us: int) -> list[tuple[int, bool]]:
        """None ever come."""
        return []


class PolledContact:
    """The tick button read in the loop: its edges are seen when the loop comes by.

    Args:
        pin: the pin; the contact closes it to ground.
    """

    def __init__(self, pin) -> None:
        self._input = Input(pin, active_low=True)
        self._closed = False
        self._first = True
        self._none: list[tuple[int, bool]] = []

    @property
    def waiting(self) -> bool:
        """Whether the contact has moved."""
        return self._input.value != self._closed

    def edges(self, now_us: int) -> list[tuple[int, bool]]:
        """The edge seen now, if there is one, as (board time, closed)."""
        closed = self._input.value
        if closed == self._closed and not self._first:
            return self._none
        self._closed = closed
        self._first = False
        return [(now_us, closed)]
