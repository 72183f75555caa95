"""Finds the ticks of a log at which a rule holds, without reading those where it can't."""

from __future__ import annotations

from collections.abc import Iterator

from handtick.log import LogReader, Tick
from handtick.rules.judge import Judge
from handtick.rules.model import Rule
from handtick.rules.possible import may_hold


def logged_where(log: LogReader, rule: Rule) -> Iterator[Tick]:
    """The ticks of a log at which a rule holds, in order; of a log that is long, only where it may hold is read."""
    judge = Judge(rule)
    for ticks in log.ticks_with(lambda sample: may_hold(rule.condition, sample)):
        if not ticks:
            judge = Judge(rule)
        for tick in ticks:
            if judge.logged(tick):
                yield tick
