"""A diagram in the terminal: plain characters, complete without colour."""

from __future__ import annotations

from collections.abc import Iterator

from handtick.diagram.layout import Column, Picture, Segment, Track

_LEAST, _MOST = 4, 12


def draw_text(picture: Picture, width: int = 100) -> str:
    """Draws a diagram; what is wider than ``width`` characters goes on below.

    A level is drawn low or high, a bus as its value between bars; ``·`` stands where nobody looked. Above each tick its
    number stands where its active edge is; ``?`` marks samples that are in doubt, ``*`` a note, ``#`` a stop.
    """
    label = max(5, *(len(track.name) for track in picture.tracks)) + 2
    half = _half_width(picture)
    fit = max(1, (width - label) // (2 * half))
    parts = []
    for first in range(0, len(picture.columns), fit):
        last = min(first + fit, len(picture.columns))
        parts.append("\n".join(_stretch(picture, first, last, label, half)))
    legend = [f"* {text}" for text in picture.notes] + [f"# {text}" for text in picture.stops]
    return "\n\n".join(parts) + ("\n\n" + "\n".join(legend) if legend else "")


def _half_width(picture: Picture) -> int:
    """Characters a half takes: as many as the longest value that has but one, within reason."""
    longest = max(
        (
            -(-(len(segment.text) + 2) // (segment.end - segment.start))
            for track in picture.tracks
            if not track.is_line
            for segment in track.segments
        ),
        default=_LEAST,
    )
    numbers = max(len(column.label) + 2 for column in picture.columns)
    return min(_MOST, max(_LEAST, longest, -(-numbers // 2)))


def _stretch(picture: Picture, first: int, last: int, label: int, half: int) -> Iterator[str]:
    columns = picture.columns[first:last]
    yield "tick".ljust(label) + "".join(_number(column, half) for column in columns).rstrip()
    yield "clock".ljust(label) + "".join(_clock(column, half) for column in columns)
    for track in picture.tracks:
        yield track.name.ljust(label) + _row(track, 2 * first, 2 * last, half).rstrip()


def _number(column: Column, half: int) -> str:
    marks = ("?" if column.doubtful else "") + ("r" if column.in_reset else "")
    marks += ("*" if column.notes else "") + ("#" if column.stop else "")
    if column.missing:
        return f"{column.label:^{2 * half}}"[: 2 * half]
    return (" " * half + column.label + marks).ljust(2 * half)[: 2 * half]


def _clock(column: Column, half: int) -> str:
    if column.missing:
        return "·" * (2 * half)
    return "▁" * half + "▔" * (half - 1) + "▁"


def _row(track: Track, start: int, end: int, half: int) -> str:
    return "".join(
        _piece(track, segment, max(segment.start, start), min(segment.end, end), half)
        for segment in track.segments
        if segment.start < end and segment.end > start
    )


def _piece(track: Track, segment: Segment, start: int, end: int, half: int) -> str:
    room = (end - start) * half
    if segment.value is None:
        return "·" * room
    if track.is_line:
        return ("▔" if segment.value else "▁") * room
    text = segment.text if len(segment.text) < room else segment.text[: max(0, room - 2)] + "…"
    return ("│" + text).ljust(room)[:room]
