"""Blinka's ``digitalio`` between the firmware and the simulated pins: what a board under CPython stands on."""

from __future__ import annotations

import itertools
from collections.abc import Callable
from typing import ClassVar

import digitalio

from handtick_board import pins
from handtick_board.rim import Rim

_MOST_PINS = 200
_numbers = itertools.count(100)


class SimulatedPin(digitalio.Pin):  # type: ignore[name-defined, misc]
    """One of Blinka's simulated pins, whose level goes to a line or comes from one."""

    written: ClassVar[dict[int, Callable[[bool], None]]] = {}
    given: ClassVar[dict[int, Callable[[], bool]]] = {}

    def write(self, new_value: int) -> None:
        """The firmware drives the pin."""
        super().write(new_value)
        if self.id in self.written:
            self.written[self.id](bool(new_value))

    def read(self) -> int:
        """The firmware reads the pin."""
        return int(self.given[self.id]())


class _Numbered:
    """A pin as Blinka takes it: something with an id."""

    def __init__(self) -> None:
        self.id = next(_numbers)


def over_blinka(rim: Rim) -> Rim:
    """The rim with clock line, reset line, halt line and probes on ``digitalio``."""
    for book in (SimulatedPin.written, SimulatedPin.given):
        # Boards come and go; those of one test are few.
        while len(book) > _MOST_PINS:
            del book[next(iter(book))]
    line = _output(rim.line, rim.line.value)
    reset_line = _output(rim.reset_line, False)
    halt_pin = pins.Input(_input(lambda: rim.halt_pin.value), active_low=False)
    probes = rim.probes
    given = [_input(lambda probe=probe: probes.read() >> probe & 1 == 1) for probe in range(16)]  # type: ignore[misc]
    read = pins.ProbesOneByOne(given, "down")
    return Rim(
        line, reset_line, halt_pin, read, rim.contact, rim.port, rim.now_us, supply=rim.supply, trigger=rim.trigger
    )


def _output(target: pins.Output, level: bool) -> pins.Output:
    # Blinka drives a pin low for a moment when it is made an output; that is before anything is wired to it.
    pin = _Numbered()
    output = pins.Output(pin, level)
    SimulatedPin.written[pin.id] = lambda value: setattr(target, "value", value)
    return output


def _input(read: Callable[[], bool]) -> _Numbered:
    pin = _Numbered()
    SimulatedPin.given[pin.id] = read
    return pin
