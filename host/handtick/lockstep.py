"""Runs a machine and a model side by side, a tick at a time or in blocks at speed, to the first tick that differs."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Protocol

from handtick.bench import Bench
from handtick.compare import Finding, Row, Trace, diagnose, trace_of
from handtick.compare.trace import line_names, packed
from handtick.errors import StoppedEarly
from handtick.events import Tick
from handtick.repeat import Repeat

_BLOCK = 256


class Source(Protocol):
    """Where expectations come from: a user's model, or a recorded trace."""

    def reset(self) -> None:
        """The machine is at its start."""

    def tick(self) -> Row:
        """What the next tick should leave on the lines."""
        ...


class Recorded:
    """A trace to be followed from a tick on; where it has no row, anything may be.

    Args:
        trace: the trace, of late samples.
        tick: the tick the machine is at.
    """

    def __init__(self, trace: Trace, tick: int) -> None:
        self._rows = {row.tick: row for row in trace.rows}
        self._tick = tick

    def reset(self) -> None:
        """The machine is at its start."""
        self._tick = 0

    def tick(self) -> Row:
        """See ``Source``."""
        self._tick += 1
        return self._rows.get(self._tick, Row(self._tick, 0, 0))


class Lockstep:
    """One machine and what it should do, side by side.

    Args:
        bench: the machine's bench.
        model: the model or trace.
        repeat: brings the machine to its start.

    Attributes:
        agreed: how many ticks machine and model have agreed on.
        last: the ticks of the machine seen so far.
    """

    def __init__(self, bench: Bench, model: Source, repeat: Repeat) -> None:
        self.agreed = 0
        self.last: list[Tick] = []
        self._bench = bench
        self._model = model
        self._repeat = repeat
        self._expected: list[Row] = []

    def run(self, most: int, rate: str | None = None, block: int | None = None) -> Finding:
        """Takes both to their start and compares up to ``most`` ticks.

        The clock then rests at the first tick that differs, or at the last.

        Args:
            most: ticks.
            rate: None to step, comparing each tick; a rate to run in blocks, after which a difference is gone back to.
            block: ticks a block; None for the usual number.

        Raises:
            StoppedEarly: the clock stopped, and up to there they agree.
        """
        self._repeat.to_start()
        self._model.reset()
        return self.go_on(most, rate, _BLOCK if block is None else block)

    def go_on(self, most: int, rate: str | None, block: int = 1) -> Finding:
        """Compares up to ``most`` ticks from where the machine is; see ``run``."""
        block = 1 if rate is None else block
        while self.agreed < most:
            count = min(block, most - self.agreed)
            stop = self._make(count, rate)
            ticks = [event for event in self._bench.heard if isinstance(event, Tick)]
            if not self._compare(ticks):
                finding = self._finding()
                assert finding.tick is not None
                if self._bench.tick > finding.tick:
                    self._repeat.run_to(finding.tick, rate or "1000", same_start=False)
                return finding
            self.agreed += len(ticks)
            if stop is not None:
                raise stop
        return self._finding()

    def _make(self, count: int, rate: str | None) -> StoppedEarly | None:
        """Makes ticks; returns what stopped them early, if anything did."""
        try:
            if rate is None:
                self._bench.step(count)
            else:
                self._bench.burst(count, rate)
        except StoppedEarly as stop:
            return stop
        return None

    def _compare(self, ticks: Sequence[Tick]) -> bool:
        """Takes ticks; returns whether all are as the model says."""
        wiring = self._bench.wiring
        expected = [self._model.tick() for _ in ticks]
        self._expected += expected
        self.last += ticks
        return all(
            not (want.bits ^ packed(wiring, tick.late)) & want.care for want, tick in zip(expected, ticks, strict=True)
        )

    def _finding(self) -> Finding:
        wiring = self._bench.wiring
        expected = Trace(line_names(wiring), tuple(self._expected))
        return diagnose(expected, trace_of(self.last, wiring, late=True))
