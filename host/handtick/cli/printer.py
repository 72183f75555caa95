"""Prints what a bench tells while a command runs: as rows for people, or as an object a line for programs."""

from __future__ import annotations

import json
import sys
from typing import Any

from handtick.bench import Bench
from handtick.cli.table import TickTable
from handtick.events import Cycle, Event, Gap, Half, Notice, Tick, Trouble, Unplaced
from handtick.watch import Sight, Watch
from handtick.wiring import Wiring
from handtick_wire import reasons
from handtick_wire.described import sentence


class Printer:
    """Listens to a bench.

    Args:
        as_json: whether to print objects.
        quiet: whether to print nothing but errors.
        rows: whether ticks are printed as rows; objects are printed in any case.
        ticks: whether ticks are printed at all.

    Attributes:
        wiring: names the columns.
        ticks: ticks heard since the command began.
    """

    def __init__(self, as_json: bool, quiet: bool, rows: bool = True, ticks: bool = True) -> None:
        self.wiring = Wiring()
        self.ticks = 0
        self._json = as_json
        self._quiet = quiet
        self._rows = rows
        self._print_ticks = ticks
        self._since: tuple[int, int] | None = None
        self._earlier = 0
        self._table: TickTable | None = None
        self._watch = Watch(self.wiring)

    def begin(self, bench: Bench) -> None:
        """What the board was at when greeted was made before this command: logged, not printed."""
        self._watch = Watch(self.wiring)
        greeting = bench.greeting
        assert greeting is not None
        # Of a tick that is held half-way the number has been counted, but it is not made yet.
        in_hand = 1 if greeting.fields["mode"] == "held" else 0
        self._since = greeting.reset, greeting.tick - in_hand

    def take(self, event: Event) -> None:
        """Prints one event."""
        self._watch.take(event)
        if isinstance(event, Tick):
            self._tick(event)
        elif isinstance(event, Half):
            self._half(event)
        elif isinstance(event, Cycle):
            self._cycle(event)
        elif isinstance(event, Gap):
            self.warn(f"ticks {event.first} to {event.last} have no samples: {_gap_words(event.why)}")
        elif isinstance(event, Unplaced):
            self.warn(f"{event.count or 'some'} ticks before reset {event.reset} were not heard of: {event.why}")
        elif isinstance(event, Trouble):
            self.warn(f"the board refused {event.name} at its start: {event.why.replace('-', ' ')}")
        elif isinstance(event, Notice) and event.what != reasons.ALREADY_THERE:
            self.warn(f"{sentence(event.what)} (so far: {event.count})")

    def answer(self, text: str, /, **fields: Any) -> None:
        """Prints the answer to a command: the text for people, the fields as an object for programs."""
        if self._quiet:
            return
        if self._json:
            print(json.dumps(fields, ensure_ascii=False), flush=True)
        else:
            print(text, flush=True)

    def warn(self, text: str) -> None:
        """Says something beside the output."""
        if not self._quiet:
            print(f"handtick: {text}", file=sys.stderr, flush=True)

    def aside(self, text: str) -> None:
        """Prints what belongs to an error that follows, beside the output."""
        if not self._quiet:
            print(text, file=sys.stderr, flush=True)

    def close(self) -> None:
        """Says what was seen besides, and what went on before the command."""
        for sight in self._watch.sights():
            self._say_sight(sight)
        if self._earlier and not self._json:
            self.warn(f"{self._earlier} ticks made before this command were logged too")

    def _tick(self, tick: Tick) -> None:
        if self._since is None or (tick.reset, tick.tick) <= self._since:
            self._earlier += 1
            return
        self.ticks += 1
        if not self._print_ticks:
            return
        if self._json:
            from handtick.export.json_lines import tick_object

            self.answer("", **tick_object(tick, self.wiring))
        elif self._rows and not self._quiet:
            if self._table is None:
                self._table = TickTable(self.wiring)
                print(self._table.heading())
            print(self._table.row(tick), flush=True)

    def _say_sight(self, sight: Sight) -> None:
        if self._json:
            self.answer("", kind="sight", what=sight.what, line=sight.line, tick=sight.tick, times=sight.times)
        else:
            self.warn(sight.text())

    def _cycle(self, cycle: Cycle) -> None:
        early, late = self.wiring.values(cycle.early), self.wiring.values(cycle.late)
        shown = "  ".join(
            f"{bus.name} {bus.text(early[bus.name])} > {bus.text(late[bus.name])}" for bus in self.wiring.shown
        )
        passed = f"  (not held: {cycle.passed} more)" if cycle.passed else ""
        self.answer(
            f"cycle {cycle.number}: {shown}{passed}",
            kind="cycle",
            boot=cycle.boot,
            reset=cycle.reset,
            tick=cycle.tick,
            number=cycle.number,
            early=cycle.early,
            late=cycle.late,
            passed=cycle.passed,
            time_us=cycle.time_us,
            buses={name: {"early": early[name], "late": late[name]} for name in early} if self.wiring.buses else {},
        )

    def _half(self, half: Half) -> None:
        values = {bus.name: bus.value(half.probes) for bus in self.wiring.shown}
        shown = "  ".join(f"{bus.name} {bus.text(values[bus.name])}" for bus in self.wiring.shown)
        where = "half a tick done" if half.phase == "lead" else "the tick is whole"
        self.answer(
            f"tick {half.tick}, {where}: {shown}",
            kind="half",
            boot=half.boot,
            reset=half.reset,
            tick=half.tick,
            phase=half.phase,
            probes=half.probes,
            time_us=half.time_us,
            buses=values if self.wiring.buses else {},
        )


def _gap_words(why: str) -> str:
    return "their lines did not arrive" if why == "link" else sentence(why)
