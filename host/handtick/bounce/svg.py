"""A recording as an SVG file: each press at its beginning and its end, with the tick that each rule made of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from html import escape

from handtick.bounce.analysis import Press

#: So many presses are drawn at most.
MOST_ROWS = 60

_LEFT, _WIDTH, _GAP, _TOP, _ROW, _HIGH = 84, 360, 90, 64, 34, 14
_STYLE = (
    "text{font:13px sans-serif;fill:#1b1b1b}.s{font-size:11px}.l{fill:none;stroke:#1b1b1b;stroke-width:1.2}"
    ".m{fill:#1b1b1b}.o{fill:#ffffff;stroke:#1b1b1b;stroke-width:1.4}"
)
# A mark's shape by the place of its rule, drawn about (0, 0); what is told apart is told by shape.
_SHAPES = (
    '<path class="o" d="M-4 -4H4V4H-4Z"/>',
    '<circle class="o" r="4.2"/>',
    '<path class="m" d="M0 -5.5L5 4H-5Z"/>',
)


def presses_svg(presses: Sequence[Press], ticks: Mapping[str, Sequence[int]]) -> str:
    """Draws presses, both sides on one scale.

    Args:
        presses: presses and spikes, in order; ``MOST_ROWS`` at most are drawn.
        ticks: up to three rules, each with the times of its ticks in microseconds.
    """
    shown = presses[:MOST_ROWS]
    longest_us = max((max(press.press_bounce_us, press.release_bounce_us) for press in shown), default=0)
    window_us = max(100, longest_us * 5 // 4)
    width, height = _LEFT + 2 * _WIDTH + _GAP + 16, _TOP + _ROW * len(shown) + 30
    spoken = f"{len(shown)} presses; {', '.join(f'{name}: {len(each)} ticks' for name, each in ticks.items())}"
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {height}" width="{width}" height="{height}" '
        f'role="img" aria-label="{escape(spoken)}"><style>{_STYLE}</style>'
        f'<rect width="{width}" height="{height}" fill="#ffffff"/>',
        *_heading(ticks, window_us),
    ]
    for place, press in enumerate(shown):
        until_us = presses[place + 1].start_us if place + 1 < len(presses) else press.end_us + 1_000_000
        parts += _row(press, ticks, window_us, until_us, _TOP + _ROW * place)
    return "\n".join([*parts, "</svg>"]) + "\n"


def _heading(ticks: Mapping[str, Sequence[int]], window_us: int) -> list[str]:
    x, parts = 8, ["<g>"]
    for shape, name in zip(_SHAPES, ticks, strict=False):
        parts.append(
            f'<g transform="translate({x + 6} 16)">{shape}</g><text x="{x + 18}" y="20">tick: {escape(name)}</text>'
        )
        x += 60 + 8 * len(name)
    scale = f"{window_us / 1000:g} ms"
    parts += [
        f'<text class="s" x="{_LEFT}" y="46">from the first closing: {scale}</text>',
        f'<text class="s" x="{_LEFT + _WIDTH + _GAP // 2}" y="46" text-anchor="middle">held</text>',
        f'<text class="s" x="{_LEFT + _WIDTH + _GAP}" y="46">to the last opening: {scale}; high: closed</text>',
        "</g>",
    ]
    return parts


def _row(press: Press, ticks: Mapping[str, Sequence[int]], window_us: int, until_us: int, y: int) -> list[str]:
    # A press that is shorter than the two windows is drawn in both.
    right_us = press.end_us - window_us * 15 // 16
    parts = [f'<text class="s" x="8" y="{y + 12}">{press.start_us / 1000:.1f} ms</text>']
    second = _LEFT + _WIDTH + _GAP
    parts += [_trace(press, press.start_us, window_us, _LEFT, y), _trace(press, right_us, window_us, second, y)]
    for shape, times in zip(_SHAPES, ticks.values(), strict=False):
        for at_us in times:
            if not press.start_us <= at_us < until_us:
                continue
            if at_us <= press.start_us + window_us:
                x = _LEFT + _WIDTH * (at_us - press.start_us) / window_us
            elif right_us <= at_us:
                x = second + _WIDTH * min(1.0, (at_us - right_us) / window_us)
            else:
                x = _LEFT + _WIDTH + _GAP / 2
            parts.append(f'<g transform="translate({x:.1f} {y + _HIGH + 8})">{shape}</g>')
    return parts


def _trace(press: Press, from_us: int, window_us: int, left: int, y: int) -> str:
    """The contact's level within a window, high where it is closed."""
    edges = [(span.start_us, True) for span in press.spans if span.closed]
    edges += [(span.end_us, False) for span in press.spans if span.closed]
    before = [closed for at_us, closed in sorted(edges) if at_us < from_us]
    points = [f"M{left} {_height(bool(before) and before[-1], y)}"]
    for at_us, closed in sorted(edges):
        if from_us <= at_us <= from_us + window_us:
            points.append(f"H{left + _WIDTH * (at_us - from_us) / window_us:.1f}V{_height(closed, y)}")
    return f'<path class="l" d="{"".join(points)}H{left + _WIDTH}"/>'


def _height(closed: bool, y: int) -> int:
    return y if closed else y + _HIGH
