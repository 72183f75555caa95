"""Tick rows as people read them: one line a tick, columns that line up, notes between the lines."""

from __future__ import annotations

from collections.abc import Sequence

from handtick import events, log
from handtick.flags import flag_words
from handtick.wiring import Bus, Wiring

_ARROW = " > "


class Columns:
    """Lays out rows under a heading.

    Args:
        names: column headings.
        widths: characters each column takes; a negative width is flush left. The last column is as long as it likes.
    """

    def __init__(self, names: Sequence[str], widths: Sequence[int]) -> None:
        self._names = names
        self._widths = widths

    def heading(self) -> str:
        """The heading and a rule under it."""
        rules = ["-" * max(abs(width), len(name)) for name, width in zip(self._names, self._widths, strict=True)]
        return f"{self.row(*self._names)}\n{self.row(*rules)}"

    def row(self, *cells: object) -> str:
        """One row."""
        parts = []
        for cell, width in zip(cells, self._widths, strict=True):
            parts.append(f"{cell!s:>{width}}" if width > 0 else f"{cell!s:<{-width}}")
        return "  ".join(parts).rstrip()


class TickTable:
    """Rows of ticks with every bus by name: the value before the edge and, where it changed, the value after it.

    Args:
        wiring: names the columns.
    """

    def __init__(self, wiring: Wiring) -> None:
        self._wiring = wiring
        buses = wiring.shown
        widths = [-max(len(bus.name), 2 * bus.widest + len(_ARROW)) for bus in buses]
        self._columns = Columns(["tick", *(bus.name for bus in buses), ""], [8, *widths, -1])

    def heading(self) -> str:
        """The heading and a rule under it."""
        return self._columns.heading()

    def row(self, tick: events.Tick | log.Tick) -> str:
        """One tick."""
        cells = [_cell(bus, tick.early, tick.late) for bus in self._wiring.shown]
        words = self._wiring.instruction_words(tick.early) if tick.early is not None else ""
        return self._columns.row(tick.tick, *cells, ", ".join(filter(None, [words, *flag_words(tick.flags)])))


def _cell(bus: Bus, early: int | None, late: int | None) -> str:
    if early is None or late is None:
        return "-"
    before, after = bus.value(early), bus.value(late)
    return bus.text(before) if before == after else f"{bus.text(before)}{_ARROW}{bus.text(after)}"
