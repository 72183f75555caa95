"""Runs a machine and a model side by side, a tick at a time or in blocks at speed, to the first tick that differs."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from typing import Protocol

from handtick.bench import Bench
from handtick.compare import Diagnosis, Finding, Row, Trace
from handtick.compare.trace import Lines
from handtick.errors import StoppedEarly
from handtick.events import Tick
from handtick.repeat import Repeat

#: How many ticks up to a difference are kept for whoever tells of it.
SHOWN = 8

_BLOCK = 256


class Source(Protocol):
    """Where expectations come from: a user's model, or a recorded trace."""

    def reset(self) -> None:
        """The machine is at its start."""

    def tick(self) -> Row:
        """What should be on the lines at the next tick."""
        ...


class Recorded:
    """A trace to be followed from a tick on; where it has no row, anything may be.

    Args:
        trace: the trace.
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
        late: whether the model says what a tick leaves on the lines, and not what is there just before its edge.

    Attributes:
        agreed: how many ticks were made without a difference, also those of which the model says nothing.
        last: the latest ticks of the machine; where one differs, it and those just before it among them.
    """

    def __init__(self, bench: Bench, model: Source, repeat: Repeat, late: bool = True) -> None:
        self.agreed = 0
        self.last: list[Tick] = []
        self._bench = bench
        self._model = model
        self._repeat = repeat
        self._late = late
        self._lines = Lines(bench.wiring)
        self._diagnosis = Diagnosis(self._lines.names)

    @property
    def compared(self) -> int:
        """How many ticks were compared: those of which the model says something."""
        return self._diagnosis.compared

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
            self._compare(ticks)
            if self._diagnosis.tick is not None:
                if self._bench.tick > self._diagnosis.tick:
                    self._repeat.go_to(self._diagnosis.tick, rate or "1000")
                return self._diagnosis.finding()
            self.agreed += len(ticks)
            if stop is not None:
                raise stop
        return self._diagnosis.finding()

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

    def _compare(self, ticks: Sequence[Tick]) -> None:
        self.last = [*self.last[-SHOWN:], *ticks]
        self._diagnosis.take(self._with_model(ticks))

    def _with_model(self, ticks: Iterable[Tick]) -> Iterator[tuple[Row, Row | None]]:
        """Each tick beside the model's, which also makes those whose records did not arrive."""
        for tick in ticks:
            want = self._model.tick()
            while want.tick < tick.tick:
                yield want, None
                want = self._model.tick()
            yield want, self._lines.row(tick.tick, tick.late if self._late else tick.early)
