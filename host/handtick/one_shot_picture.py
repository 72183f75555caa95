"""Draws how the one-shot judges a bouncing press: the firmware's own one-shot, fed with a contact's edges."""

from __future__ import annotations

from collections.abc import Sequence

from handtick_board.one_shot import OneShot

#: A press with bounce at both ends: (microseconds, closed).
TRAIN = (
    (1000, 1),
    (1060, 0),
    (1120, 1),
    (1210, 0),
    (1320, 1),
    (61_000, 0),
    (61_150, 1),
    (61_400, 0),
    (67_000, 1),
    (67_600, 0),
)
END_US = 100_000

# What is shown of it: (from, to) in microseconds, each in its own scale.
_PANELS = ((800, 2800, "at press"), (60_000, 90_000, "at release"))
_WIDTH, _GAP, _LEFT, _TOP = 330, 40, 96, 44
_HIGH, _ROW = 26, 62
_STYLE = (
    "text{font:13px sans-serif;fill:#1b1b1b}.s{font-size:11px}.l{fill:none;stroke:#1b1b1b;stroke-width:2}"
    ".m{stroke:#1b1b1b;stroke-width:1;stroke-dasharray:3 3;fill:none}.b{fill:#d9d9d9}"
)

Level = tuple[int, bool]


def judged(train: Sequence[tuple[int, int]] = TRAIN, end_us: int = END_US) -> tuple[list[int], list[Level]]:
    """Feeds a one-shot with the default times; returns when it fired, and every change of whether it is armed."""
    one_shot = OneShot()
    fired: list[int] = []
    armed: list[Level] = []
    one_shot.edge(0, False)
    edges = iter([*train, (end_us, None)])
    at_us, closed = next(edges)
    now_us = 0
    while now_us < end_us:
        due_us = one_shot.due_us()
        if due_us is not None and due_us <= at_us:
            now_us = due_us
            if one_shot.poll(now_us):
                fired.append(now_us)
        else:
            now_us = at_us
            if closed is not None and one_shot.edge(now_us, bool(closed)):
                fired.append(now_us)
            at_us, closed = next(edges, (end_us, None))
        if not armed or armed[-1][1] != one_shot.armed:
            armed.append((now_us, one_shot.armed))
    return fired, armed


def one_shot_svg() -> str:
    """The picture: contact, whether the one-shot is armed, and the tick, at press and at release."""
    fired, armed = judged()
    width = _LEFT + 2 * _WIDTH + _GAP + 16
    height = _TOP + 3 * _ROW + 46
    contact: list[Level] = [(0, False), *((at_us, bool(closed)) for at_us, closed in TRAIN)]
    ticks: list[Level] = [
        (0, False),
        *((at, level) for time in fired for at, level in ((time, True), (time + 1000, False))),
    ]
    rows = (("contact", "made", "open", contact), ("one-shot", "armed", "not armed", [(0, True), *armed]))
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'role="img" aria-label="{_spoken(fired)}"><style>{_STYLE}</style>'
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>'
    ]
    for place, (from_us, to_us, title) in enumerate(_PANELS):
        left = _LEFT + place * (_WIDTH + _GAP)
        parts.append(f'<text x="{left}" y="20">{title}: {(to_us - from_us) / 1000:g} ms</text>')
        for row, (_, _, _, levels) in enumerate(rows):
            parts.append(_trace(levels, from_us, to_us, left, _TOP + row * _ROW))
        parts.append(_trace(ticks, from_us, to_us, left, _TOP + 2 * _ROW))
        for time_us, words in _marks(fired, armed):
            if from_us <= time_us <= to_us:
                x = left + _WIDTH * (time_us - from_us) / (to_us - from_us)
                parts.append(f'<path class="m" d="M{x:.1f} {_TOP - 8}V{_TOP + 3 * _ROW - 22}"/>')
                anchor = "end" if x > left + 0.8 * _WIDTH else "middle"
                parts.append(f'<text class="s" x="{x:.1f}" y="{_TOP + 3 * _ROW}" text-anchor="{anchor}">{words}</text>')
    for row, (name, high, low) in enumerate([*(each[:3] for each in rows), ("clock line", "high", "low")]):
        y = _TOP + row * _ROW
        parts.append(f'<text x="8" y="{y + 18}">{name}</text>')
        parts.append(f'<text class="s" x="{_LEFT - 6}" y="{y + 5}" text-anchor="end">{high}</text>')
        parts.append(f'<text class="s" x="{_LEFT - 6}" y="{y + _HIGH + 8}" text-anchor="end">{low}</text>')
    return "\n".join([*parts, "</svg>"]) + "\n"


def _marks(fired: list[int], armed: list[Level]) -> list[tuple[int, str]]:
    marks = [(time_us, "made for 100 us: it fires") for time_us in fired]
    return marks + [(time_us, "open for 20 ms: it re-arms") for time_us, level in armed if level and time_us > fired[0]]


def _trace(levels: Sequence[Level], from_us: int, to_us: int, left: int, top: int) -> str:
    """One line of the picture within a panel."""
    level = [each for time_us, each in levels if time_us <= from_us][-1]
    points = [f"M{left} {_y(level, top)}"]
    for time_us, each in levels:
        if from_us < time_us < to_us and each != level:
            points.append(f"H{left + _WIDTH * (time_us - from_us) / (to_us - from_us):.1f}V{_y(each, top)}")
            level = each
    return f'<path class="l" d="{"".join(points)}H{left + _WIDTH}"/>'


def _y(level: bool, top: int) -> int:
    return top if level else top + _HIGH


def _spoken(fired: list[int]) -> str:
    closures = sum(closed for _, closed in TRAIN)
    return f"The contact closes {closures} times in one press; the one-shot fires {len(fired)} time."
