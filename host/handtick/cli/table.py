"""Tick rows as people read them: one line a tick, columns that line up, notes between the lines."""

from __future__ import annotations

from collections.abc import Sequence

from handtick_wire import messages

_FLAG_WORDS = (
    (messages.FLAG_IN_RESET, "in reset"),
    (messages.FLAG_DISAGREED, "probes disagreed"),
    (messages.FLAG_UNSETTLED, "unsettled"),
    (messages.FLAG_HALT_IGNORED, "halt ignored"),
)


def flag_words(flags: int) -> str:
    """What a tick's flags say, with commas; empty for an ordinary tick."""
    return ", ".join(word for bit, word in _FLAG_WORDS if flags & bit)


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
