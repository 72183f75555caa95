"""A recording as rows of letters: each press at its beginning and its end, and how long presses bounce."""

from __future__ import annotations

import itertools
from collections.abc import Sequence

from handtick.bounce.analysis import Press

_WIDTH = 44
_LEGEND = "# made, . open, + both within a column"
# Upper ends of the classes of the distribution, in microseconds.
_CLASSES_US = (0, 100, 300, 1000, 3000, 10_000, 30_000)
_MOST_BAR = 40


def press_rows(presses: Sequence[Press]) -> list[str]:
    """A row a press, both sides on one scale: on the left from its first closing on, on the right up to its last
    opening."""
    if not presses:
        return []
    longest_us = max(max(press.press_bounce_us, press.release_bounce_us) for press in presses)
    column_us = max(1, -(-longest_us * 5 // (4 * _WIDTH)))
    rows = [
        f"{_LEGEND}; a column is {column_us} us",
        f"{'at (ms)':>10}  {'from the first closing':<{_WIDTH}}  {'to the last opening':<{_WIDTH}}",
    ]
    for press in presses:
        left = _strip(press, press.start_us, column_us)
        right = _strip(press, press.end_us - (_WIDTH - 2) * column_us, column_us)
        rows.append(f"{press.start_us / 1000:>10.1f}  {left}  {right}{'  spike' if press.is_spike else ''}")
    return rows


def distribution_rows(presses: Sequence[Press]) -> list[str]:
    """How many presses bounced for how long, at press and at release."""
    rows = [f"{'bounce':>16}  {'at press':<{_MOST_BAR // 2}}  at release"]
    edges_us = (-1, *_CLASSES_US, 1 << 62)
    most = max(len(presses), 1)
    for low_us, high_us in itertools.pairwise(edges_us):
        at_press = sum(low_us < press.press_bounce_us <= high_us for press in presses)
        at_release = sum(low_us < press.release_bounce_us <= high_us for press in presses)
        bars = [f"{_bar(count, most):<{_MOST_BAR // 2}}" for count in (at_press, at_release)]
        rows.append(f"{_class_name(low_us, high_us):>16}  {'  '.join(bars)}".rstrip())
    return rows


def _strip(press: Press, from_us: int, column_us: int) -> str:
    marks = []
    for column in range(_WIDTH):
        start_us, end_us = from_us + column * column_us, from_us + (column + 1) * column_us
        closed = any(span.closed and span.start_us < end_us and span.end_us > start_us for span in press.spans)
        opened = (
            start_us < press.start_us
            or end_us > press.end_us
            or any(not span.closed and span.start_us < end_us and span.end_us > start_us for span in press.spans)
        )
        marks.append("+" if closed and opened else "#" if closed else ".")
    return "".join(marks)


def _bar(count: int, most: int) -> str:
    if not count:
        return "-"
    return f"{'=' * max(1, count * (_MOST_BAR // 2 - 5) // most)} {count}"


def _class_name(low_us: int, high_us: int) -> str:
    if high_us == 0:
        return "none"
    if high_us > _CLASSES_US[-1]:
        return f"over {_CLASSES_US[-1] // 1000} ms"
    return f"to {high_us} us" if high_us < 1000 else f"to {high_us // 1000} ms"
