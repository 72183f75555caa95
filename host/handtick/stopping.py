"""Makes ticks until a rule holds, and rests at exactly that tick: judged on the board, or here a tick at a time."""

from __future__ import annotations

import contextlib
from collections.abc import Iterator
from dataclasses import dataclass

from handtick.bench import Bench
from handtick.errors import NotHeld, StoppedEarly
from handtick.rules import Judge, Rule, board_form
from handtick_wire import messages, reasons

ON_BOARD = "on the board"
ON_HOST = "on this computer, a tick at a time"


@dataclass(frozen=True, slots=True)
class Stop:
    """Where a rule held: the tick at which the clock rests now, and where the rule was judged."""

    tick: int
    judged: str


def run_until(bench: Bench, rule: Rule, most: int | None = None, rate: str | None = None) -> Stop:
    """Makes ticks until a rule holds.

    Args:
        bench: the bench, open.
        rule: the rule. One on early samples rests before the edge that would capture them, perhaps before any tick.
        most: how many ticks at most; None for no end.
        rate: ticks a second; None for ticks of the fixed width that ``step`` makes.

    Raises:
        NotHeld: it did not hold on any of ``most`` ticks.
        StoppedEarly: the clock stopped for another reason.
        Refused, LinkLost: as ``Bench.step``.
    """
    form = board_form(rule)
    if form is None:
        return _on_host(bench, rule, most)
    count = messages.MOST_TICKS - bench.tick if most is None else most
    with _set(bench, form):
        try:
            if rate is None:
                bench.ask("step", count, keep=False)
            else:
                bench.ask("burst", count, rate, keep=False)
        except StoppedEarly as stop:
            if stop.why != reasons.RULE:
                raise
            return Stop(bench.tick, ON_BOARD)
    raise _not_held(rule, bench)


@contextlib.contextmanager
def _set(bench: Bench, form: str) -> Iterator[None]:
    bench.ask("stop_when", form)
    try:
        yield
    finally:
        if not bench.lost:
            try:
                bench.ask("halt")
            finally:
                bench.ask("stop_when", "none")


def _on_host(bench: Bench, rule: Rule, most: int | None) -> Stop:
    judge = Judge(rule)
    made = 0
    while most is None or made < most:
        if rule.early:
            now = int(bench.status().fields["probes"])
            if judge.tick(now, now, bench.tick + 1):
                return Stop(bench.tick, ON_HOST)
        ticks = bench.step(1)
        made += 1
        if not ticks:
            raise StoppedEarly(
                f"stopped at tick {bench.tick}: its samples did not arrive, so nobody knows whether the rule holds"
            )
        tick = ticks[-1]
        if not rule.early and judge.tick(tick.early, tick.late, tick.tick):
            return Stop(tick.tick, ON_HOST)
    raise _not_held(rule, bench)


def _not_held(rule: Rule, bench: Bench) -> NotHeld:
    return NotHeld(f"the rule {rule.text!r} did not hold; the clock rests at tick {bench.tick}")
