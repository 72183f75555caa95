"""A simulated clock line whose hardware makes bursts of ticks by itself, as the PIO of a real board does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol

from handtick.virtual.pins import HaltPin, Machine, OutputPin
from handtick_board.clock_program import ClockProgram

MHZ = 125


class _Samples(Protocol):
    def __setitem__(self, at: int, value: int, /) -> None: ...


class BurstLine(OutputPin):
    """A line that makes edges one by one, and bursts; its ticks happen when somebody looks, at their own times.

    Args:
        level: the level at rest.
        now_us: gives the virtual time.
        machine: what the line clocks, and whose probes are sampled.
        halt: the halt line that a burst obeys.
        set_clock: takes the line's level; the machine's own where nothing is said.

    Attributes:
        hz: cycles a second.
        stopped: whether the latest burst that is over was stopped, be it after its last tick.
    """

    hz = MHZ * 1_000_000

    def __init__(
        self,
        level: bool,
        now_us: Callable[[], int],
        machine: Machine,
        halt: HaltPin,
        set_clock: Callable[[bool], None] | None = None,
    ) -> None:
        self._set_clock = set_clock or machine.set_clock
        super().__init__(level, now_us, self._set_clock)
        self._now = now_us
        self._halt = halt
        self._rest = level
        self._machine = machine
        self._program = ClockProgram()
        self._bursts: list[_Burst] = []
        self._burst: _Burst | None = None
        self._ready: tuple[int, int, int, _Samples | None] | None = None
        self._moment_us: float | None = None
        self.stopped = False

    @property
    def moment_us(self) -> float:
        """The time at which what happens now happens: that of a tick of a burst, while one is being made."""
        return self._now() if self._moment_us is None else self._moment_us

    @property
    def edges(self) -> list[tuple[float, bool]]:
        """See ``OutputPin.edges``."""
        bursts = [edge for burst in self._bursts for edge in burst.edges(self._rest)]
        return sorted([*self._edges, *bursts], key=lambda edge: edge[0]) if bursts else self._edges

    def spans_us(self) -> list[tuple[float, float, int]]:
        """(first active edge, last active edge, ticks) of every burst, in microseconds of virtual time."""
        return [
            (burst.start_us, burst.start_us + (burst.begun - 1) * burst.period / MHZ, burst.begun)
            for burst in self._bursts
            if burst.begun
        ]

    def least(self, traced: bool) -> tuple[int, int]:
        """The shortest leading and trailing phase, in cycles."""
        return self._program.least(traced)

    @property
    def busy(self) -> bool:
        """Whether a burst is under way."""
        self.catch_up()
        return self._burst is not None and not self._burst.over

    def load(self, count: int, lead_cycles: int, trail_cycles: int, samples: _Samples | None) -> None:
        """Makes a burst ready."""
        self._ready = count, lead_cycles, lead_cycles + trail_cycles, samples

    def go(self) -> None:
        """Sends it off."""
        assert self._ready is not None
        self._burst, self._ready = _Burst(self._now(), *self._ready), None
        self._bursts.append(self._burst)
        self.catch_up()

    def end(self) -> None:
        """Asks the burst to end at the next tick boundary."""
        self.catch_up()
        if self._burst is not None:
            self._burst.ending = True

    def finish(self) -> int:
        """How many ticks of the burst were not made."""
        assert self._burst is not None
        burst, self._burst = self._burst, None
        self.stopped = burst.stopped
        return burst.count - burst.made

    def catch_up(self) -> None:
        """Makes all edges that are due by now."""
        burst = self._burst
        if burst is None or burst.over:
            return
        now = (self._now() - burst.start_us) * MHZ
        while not burst.over and self._next_edge(burst, now):
            if burst.stage == 0:
                self._whole_ticks(burst, now)
        self._moment_us = None

    def _whole_ticks(self, burst: _Burst, now: int) -> None:
        """Makes the ticks that are over by now, but for the last of the burst."""
        machine, halt, samples = self._machine, self._halt, burst.samples
        clock, probes = self._set_clock, machine.probes
        lead, rest = not self._rest, self._rest
        first = burst.made
        for made in range(first, min(burst.count - 1, now // burst.period)):
            self._moment_us = burst.start_us + made * burst.period / MHZ
            if samples is not None:
                samples[2 * made] = probes()
            clock(lead)
            self._moment_us += burst.lead / MHZ
            if samples is not None:
                samples[2 * made + 1] = probes()
            clock(rest)
            burst.made = made + 1
            if burst.ending or halt.value:
                burst.over = burst.stopped = True
                break
        self.changes += 2 * (burst.made - first)

    def _next_edge(self, burst: _Burst, now: int) -> bool:
        """Makes the next edge of a burst, or ends its tick, if that is due; ``now`` in cycles from its start."""
        due = burst.made * burst.period + (0, burst.lead, burst.period)[burst.stage]
        if due > now:
            return False
        self._moment_us = burst.start_us + due / MHZ
        if burst.stage < 2:
            if burst.samples is not None:
                burst.samples[2 * burst.made + burst.stage] = self._machine.probes()
            burst.stage += 1
            self.changes += 1
            self._level = (burst.stage == 1) != self._rest
            self._set_clock(self._level)
            return True
        burst.stage = 0
        burst.made += 1
        burst.stopped = burst.ending or self._halt.value
        burst.over = burst.made == burst.count or burst.stopped
        return not burst.over


class _Burst:
    """One burst: what was asked, and how far it has come."""

    def __init__(self, start_us: int, count: int, lead: int, period: int, samples: _Samples | None) -> None:
        self.start_us = start_us
        self.count = count
        self.lead = lead
        self.period = period
        self.samples = samples
        self.made = 0
        # Edges made of the tick after those.
        self.stage = 0
        self.ending = False
        # Whether it was stopped at a boundary, be it that after its last tick.
        self.stopped = False
        self.over = False

    @property
    def begun(self) -> int:
        """Ticks whose leading edge has been made."""
        return self.made + (self.stage > 0)

    def edges(self, rest: bool) -> list[tuple[float, bool]]:
        """Its edges so far."""
        whole = 2 * self.made + self.stage
        return [
            (self._time_us(at // 2 * self.period + at % 2 * self.lead), (at % 2 == 0) != rest) for at in range(whole)
        ]

    def _time_us(self, cycles: int) -> float:
        whole, part = divmod(cycles, MHZ)
        return self.start_us + whole + (part / MHZ if part else 0)
