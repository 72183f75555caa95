"""The clock line, and the pins read beside it, on a PIO state machine: the rim of ``burst_clock.py``.

The state machine owns the clock pin, the probes and the halt pin. Their levels are read from the chip's registers, and
the probes' pulls are set there: ``digitalio`` can't have a pin that a state machine has.
"""

from __future__ import annotations

import array

from .clock_program import X_OUT, Loader

# Pull-down and pull-up of a pin's pad register (RP2040 datasheet 2.19.6.3, RP2350 datasheet 9.11.3).
_PULLS = {"none": 0x00, "down": 0x04, "up": 0x08}
_BOTH_PULLS = 0x0C
_WENT_ON = 0xFFFFFFFF


class PioLine:
    """Makes edges and bursts of ticks.

    Args:
        rp2pio: the module.
        program: a ``ClockProgram``.
        clock_pin: the pin of the clock line; what else the program drives is on the pins after it.
        halt_pin: the pin of the halt line, or None.
        halt_pull: its weak pull.
        first_probe: the first of sixteen probes on pins in a row, or None.
        hz: cycles a second of the system clock.
        rest_high: level of the line at rest, at the machine.

    Attributes:
        hz: cycles a second.
        stopped: whether the latest burst that is over was stopped, by the halt line or ``end``, be it after its last
            tick.
    """

    def __init__(self, rp2pio, program, clock_pin, halt_pin, halt_pull, first_probe, hz: int, rest_high: bool) -> None:
        self.hz = hz
        self.stopped = False
        self._program = program
        self._rest_high = rest_high
        self._level = rest_high
        extra = {}
        if halt_pin is not None:
            extra = {"jmp_pin": halt_pin, "jmp_pin_pull": halt_pull}
        if first_probe is not None:
            extra["first_in_pin"] = first_probe
            extra["in_pin_count"] = 16
        self._machine = rp2pio.StateMachine(
            program.words,
            frequency=0,
            may_exec=array.array("H", (0x8080,) + X_OUT),
            first_sideset_pin=clock_pin,
            sideset_pin_count=program.pins,
            initial_sideset_pin_state=program.rest,
            sideset_enable=True,
            auto_push=True,
            push_threshold=16,
            in_shift_right=False,
            wait_for_txstall=False,
            wrap_target=program.wrap_target,
            wrap=program.wrap,
            mov_status_type="txfifo",
            mov_status_n=1,
            **extra,
        )
        offset = self._machine.offset
        self._idle = offset + program.idle
        self._loader = Loader(program, offset)
        # Numbers are loaded beforehand: the jump alone is left for the moment at which ticks are to be made.
        words = memoryview(self._loader.words)
        self._numbers, self._jump = words[:-1], words[-1:]
        self._edges = {leading: program.edge(leading) for leading in (False, True)}
        self._ask_to_end = array.array("H", (0,))
        self._x_out = array.array("H", X_OUT)
        self._answer = array.array("I", (0,))
        # Whether samples are on their way, or will be once the ticks that are ready are sent off.
        self._reads = False

    @property
    def value(self) -> bool:
        """The level at the machine; to be set between bursts only."""
        return self._level

    @value.setter
    def value(self, level: bool) -> None:
        self._machine.run(self._edges[level != self._rest_high])
        self._level = level

    def least(self, traced: bool) -> tuple[int, int]:
        """The shortest leading and trailing phase, in cycles."""
        return self._program.least(traced)

    @property
    def busy(self) -> bool:
        """Whether a burst is under way."""
        return self._machine.pc != self._idle

    def load(self, count: int, lead_cycles: int, trail_cycles: int, samples) -> None:
        """Makes ``count`` ticks ready; ``samples`` is a memory of two 16-bit words a tick, or None."""
        if self._reads:
            # What was made ready before was not sent off.
            self._machine.stop_background_read()
        self._reads = samples is not None
        self._loader.set(count, lead_cycles, trail_cycles, self._reads)
        self._machine.run(self._numbers)
        if self._reads:
            self._machine.background_read(once=samples)

    def go(self) -> None:
        """Sends them off."""
        self._machine.run(self._jump)

    def end(self) -> None:
        """Asks a burst to end at the next tick boundary."""
        self._machine.background_write(once=self._ask_to_end)

    def finish(self) -> int:
        """How many ticks of the burst, which is over, were not made."""
        machine = self._machine
        if self._reads:
            self._reads = False
            if machine.reading:
                machine.stop_background_read()
        machine.run(self._x_out)
        machine.readinto(self._answer)
        left = self._answer[0]
        # X goes below zero where the machine went on from the last tick.
        self.stopped = left != _WENT_ON
        return left if self.stopped else 0


class RegisterProbes:
    """Sixteen probes from pin 0 on, read in one instruction.

    Args:
        levels: an object whose ``[0:4]`` gives the four bytes of the register of all pin levels.
        pads: an object whose slices of four bytes are the pad registers of pin 0 and on.
        pull: "down", "up" or "none".
        count: how many probes there are, 0 to 16.
    """

    at_once = True
    disagreed = False

    def __init__(self, levels, pads, pull: str, count: int) -> None:
        self._levels = levels
        self._pads = pads
        self._count = count
        self._mask = (1 << count) - 1
        self.pull(pull)

    def read(self) -> int:
        """All probes as one number, probe 0 the lowest bit."""
        levels = self._levels[0:4]
        return (levels[0] | levels[1] << 8) & self._mask

    def pull(self, way: str) -> None:
        """Pulls every probe "up", "down" or, with "none", not at all."""
        for at in range(0, 4 * self._count, 4):
            pad = bytearray(self._pads[at : at + 4])
            pad[0] = pad[0] & ~_BOTH_PULLS | _PULLS[way]
            self._pads[at : at + 4] = pad


class RegisterInput:
    """A pin that the state machine has, read from the register of all pin levels.

    Args:
        levels: as for ``RegisterProbes``.
        number: the pin's number.
        active_low: whether low is the active level.
    """

    def __init__(self, levels, number: int, active_low: bool) -> None:
        self._levels = levels
        self._byte = number >> 3
        self._bit = 1 << (number & 7)
        self._active_low = active_low

    @property
    def value(self) -> bool:
        """Whether the line is asserted now."""
        return bool(self._levels[0:4][self._byte] & self._bit) != self._active_low
