"""Judges a rule tick by tick, over a run or over a log."""

from __future__ import annotations

from typing import TYPE_CHECKING

from handtick.rules.model import Rule

if TYPE_CHECKING:
    from handtick.log import Tick


class Judge:
    """Counts how many ticks in a row a rule's condition has held.

    Args:
        rule: the rule.
    """

    def __init__(self, rule: Rule) -> None:
        self._rule = rule
        self._held = 0

    def tick(self, early: int | None, late: int | None, tick: int) -> bool:
        """Takes a tick; returns whether the rule holds there. A tick without samples holds for nothing."""
        if early is None or late is None:
            self._held = 0
            return False
        self._held = self._held + 1 if self._rule.condition.holds(early, late, tick) else 0
        return self._held >= self._rule.ticks

    def logged(self, tick: Tick) -> bool:
        """Takes a tick of a log, as ``tick`` does: a rule on early samples is judged on those alone."""
        return self.tick(tick.early, tick.early if self._rule.early else tick.late, tick.tick)
