"""Draws what the clock's PIO program does: samples, a halt in time, and two phases with their dead time."""

from __future__ import annotations

import itertools

from handtick.clock_waves import HALTED, TRACED, TWO_PHASE

_CYCLE, _LEFT, _RIGHT, _HIGH, _ROW = 7, 92, 24, 26, 56
_STYLE = (
    "text{font:13px sans-serif;fill:#1b1b1b}.s{font-size:11px}.l{fill:none;stroke:#1b1b1b;stroke-width:2}"
    ".m{stroke:#1b1b1b;stroke-width:1;stroke-dasharray:3 3;fill:none}.b{fill:#d9d9d9}.d{fill:#1b1b1b}"
)
_NS_A_CYCLE = 8


def clock_svg() -> str:
    """The picture, as a whole."""
    parts: list[str] = []
    top = _samples(parts, 0)
    top = _halt(parts, top)
    top = _two_phase(parts, top)
    width = _LEFT + _CYCLE * max(len(waves.clock) for waves in (TRACED, HALTED, TWO_PHASE)) + _RIGHT
    parts.append(_scale(top))
    head = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {top + 40}" width="{width}" height="{top + 40}" '
        f'role="img" aria-label="{_spoken()}"><style>{_STYLE}</style>'
        f'<rect width="{width}" height="{top + 40}" fill="#ffffff"/>'
    )
    return "\n".join([head, *parts, "</svg>"]) + "\n"


def _samples(parts: list[str], top: int) -> int:
    """Three ticks and the instants that their samples show."""
    parts.append(_text(_LEFT, top + 20, "three ticks with samples"))
    top += 44
    for number, at in enumerate(TRACED.samples):
        edge = next(edge for edge in _edges(TRACED.clock) if edge > at)
        parts.append(_mark(at, top - 10, top + _HIGH + 8))
        parts.append(f'<circle class="d" cx="{_x(at)}" cy="{top - 10}" r="3"/>')
        words = f"{('early', 'late')[number % 2]}, {edge - at} cycles"
        parts.append(_small(_x(at), top + _HIGH + (22 if number % 2 else 36), words, "middle"))
    parts.append(_line("clock line", TRACED.clock, top))
    return top + _ROW + 24


def _halt(parts: list[str], top: int) -> int:
    """A halt before the third leading edge, which then does not come."""
    parts.append(_text(_LEFT, top + 20, "halted before the third edge"))
    top += 40
    first, _, second = _edges(HALTED.clock)[:3]
    missing = 2 * second - first
    asked = HALTED.halt.index("1")
    parts.append(_line("clock line", HALTED.clock, top))
    parts.append(_line("halt line", HALTED.halt, top + _ROW))
    parts.append(_mark(missing, top - 8, top + _HIGH + 4))
    parts.append(_small(_x(missing) + 5, top + 8, "no third edge"))
    parts.append(_mark(asked, top - 8, top + _ROW + _HIGH + 8))
    words = f"asked {missing - asked} cycles before it"
    parts.append(_small(_x(asked), top + _ROW + _HIGH + 22, words, "middle"))
    return top + 2 * _ROW + 14


def _two_phase(parts: list[str], top: int) -> int:
    """Two phases, and where neither is high."""
    parts.append(_text(_LEFT, top + 20, "two phases"))
    top += 40
    at = 0
    pairs = zip(TWO_PHASE.clock, TWO_PHASE.second, strict=True)
    for dead, run in itertools.groupby(pair == ("0", "0") for pair in pairs):
        cycles = len(list(run))
        if dead:
            place = f'x="{_x(at)}" y="{top - 4}" width="{_CYCLE * cycles}" height="{_ROW + _HIGH + 8}"'
            parts.append(f'<rect class="b" {place}/>')
            parts.append(_small(_x(at) + _CYCLE * cycles // 2, top + _ROW + _HIGH + 20, f"dead {cycles}", "middle"))
        at += cycles
    parts.append(_line("phase one", TWO_PHASE.clock, top))
    parts.append(_line("phase two", TWO_PHASE.second, top + _ROW))
    return top + 2 * _ROW + 14


def _scale(top: int) -> str:
    path = f'<path class="l" d="M{_x(0)} {top + 8}v8h{10 * _CYCLE}v-8"/>'
    return path + _small(_x(10) + 8, top + 16, f"10 cycles of the system clock: {10 * _NS_A_CYCLE} ns at 125 MHz")


def _line(name: str, levels: str, top: int) -> str:
    """A line and its name."""
    points, at = [], 0
    for level, run in itertools.groupby(levels):
        at += len(list(run))
        points.append(f"V{top if level == '1' else top + _HIGH}H{_x(at)}")
    start = f"M{_x(0)} {top if levels[0] == '1' else top + _HIGH}"
    return f'<text x="8" y="{top + 18}">{name}</text><path class="l" d="{start}{"".join(points)}"/>'


def _edges(levels: str) -> list[int]:
    return [at for at, (before, after) in enumerate(itertools.pairwise(levels), 1) if before != after]


def _x(at: int) -> int:
    return _LEFT + _CYCLE * at


def _mark(at: int, top: int, bottom: int) -> str:
    return f'<path class="m" d="M{_x(at)} {top}V{bottom}"/>'


def _text(x: int, y: int, words: str) -> str:
    return f'<text x="{x}" y="{y}">{words}</text>'


def _small(x: int, y: int, words: str, anchor: str = "start") -> str:
    return f'<text class="s" x="{x}" y="{y}" text-anchor="{anchor}">{words}</text>'


def _spoken() -> str:
    ticks = TRACED.clock.count("01")
    return (
        f"{ticks} ticks with {len(TRACED.samples)} samples, each some cycles before its edge; "
        f"{HALTED.clock.count('01')} ticks of three, as the halt line asks before the last; "
        "two phases, never both high."
    )
