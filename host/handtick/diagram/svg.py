"""A diagram as SVG: readable on light and dark ground, in grey print, and without telling red from green.

All ink is one colour with its ground, far over the contrast of 4.5 to 1 that WCAG 2.2 asks of text. What is told apart
is told by shape: a hollow dot where the early sample was taken, a full one for the late, hatching where samples are in
doubt or nobody looked.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

from handtick.diagram.layout import Column, Picture, Segment, Track

_FONT = 13
_LETTER = 0.62 * _FONT
_ROW, _HIGH, _TOP = 44, 22, 58
_LEAST, _MOST = 17.0, 75.0

_LIGHT, _DARK = ("#141414", "#ffffff", "#5a5a5a", "#ececec"), ("#f2f2f2", "#121212", "#b4b4b4", "#2c2c2c")


def draw_svg(picture: Picture, theme: str = "auto", width: int = 1200) -> str:
    """Draws a diagram.

    Args:
        picture: the diagram.
        theme: "light", "dark", or "auto" for whatever the reader's screen prefers.
        width: about how wide it may be, in pixels; few ticks take less, and very many more.
    """
    sheet = _Sheet(picture, width)
    style = _style(theme)
    body = "\n".join(sheet.draw())
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {sheet.width:.0f} {sheet.height}" '
        f'width="{sheet.width:.0f}" height="{sheet.height}" role="img" aria-label="{_seen(_spoken(picture))}">\n'
        f"<style>{style}</style>\n"
        '<defs><pattern id="doubt" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">'
        '<path class="faint" d="M0 0V6"/></pattern></defs>\n'
        f'<rect class="ground" width="{sheet.width:.0f}" height="{sheet.height}"/>\n{body}\n</svg>\n'
    )


class _Sheet:
    def __init__(self, picture: Picture, width: int) -> None:
        self._picture = picture
        self._left = 24 + _LETTER * max(5, *(len(track.name) for track in picture.tracks))
        texts = [
            (_LETTER * len(segment.text) + 14) / (segment.end - segment.start)
            for track in picture.tracks
            if not track.is_line
            for segment in track.segments
        ]
        numbers = [(_LETTER * len(column.label) + 12) / 2 for column in picture.columns]
        wanted = max([_LEAST, *texts, *numbers])
        fair = (width - self._left - 16) / max(1, picture.halves)
        self._half = min(_MOST, max(max([_LEAST, *numbers]), min(wanted, max(fair, _LEAST))))
        self.legend = [*(f"{place}  {text}" for place, text in enumerate(picture.notes, 1)), *picture.stops]
        longest = max((len(line) for line in self.legend), default=0)
        self.width = max(self._left + self._half * picture.halves + 16, 24 + _LETTER * longest, 300)
        self.height = _TOP + _ROW * (len(picture.tracks) + 1) + (20 * len(self.legend) + 12 if self.legend else 0) + 26

    def draw(self) -> Iterator[str]:
        """Everything, from the top."""
        bottom = _TOP + _ROW * (len(self._picture.tracks) + 1) - 12
        for place, column in enumerate(self._picture.columns):
            yield from self._column(place, column, bottom)
        yield self._text(12, _TOP + 17, "clock", "start")
        yield self._clock()
        for row, track in enumerate(self._picture.tracks, 1):
            top = _TOP + row * _ROW
            yield self._text(12, top + 17, track.name, "start")
            yield from self._track(track, top)
        yield self._key(bottom + 20)
        for row, line in enumerate(self.legend):
            yield self._text(12, bottom + 46 + 20 * row, line, "start")

    def _x(self, half: float) -> float:
        return self._left + self._half * half

    def _column(self, place: int, column: Column, bottom: int) -> Iterator[str]:
        edge, middle = self._x(2 * place + 1), self._x(2 * place + 1)
        if column.missing or column.doubtful:
            yield f'<rect class="doubt" x="{self._x(2 * place):.1f}" y="{_TOP - 6}" width="{2 * self._half:.1f}" '
            yield f'height="{bottom - _TOP + 6}"/>'
        if column.missing:
            yield self._text(middle, 22, column.label, "middle", "small")
            return
        yield f'<path class="guide" d="M{edge:.1f} {_TOP - 12}V{bottom}"/>'
        yield self._text(edge, 40, column.label, "middle")
        if column.notes:
            yield self._text(edge, 22, "note " + ",".join(map(str, column.notes)), "middle", "small")
        if column.in_reset:
            yield self._text(edge, 22, "reset", "middle", "small")
        if column.stop:
            x = self._x(2 * place + 2)
            yield f'<path class="stop" d="M{x:.1f} {_TOP - 12}V{bottom}"/>'

    def _clock(self) -> str:
        low, high = _TOP + _HIGH, _TOP
        parts: list[str] = []
        for place, column in enumerate(self._picture.columns):
            start, edge, end = self._x(2 * place), self._x(2 * place + 1), self._x(2 * place + 2)
            fall = end - 0.25 * self._half
            move = "L" if parts and not self._picture.columns[place - 1].missing else "M"
            if not column.missing:
                parts.append(f"{move}{start:.1f} {low}H{edge:.1f}V{high}H{fall:.1f}V{low}H{end:.1f}")
        return f'<path class="line" d="{"".join(parts)}"/>'

    def _track(self, track: Track, top: int) -> Iterator[str]:
        for segment in track.segments:
            x, end = self._x(segment.start), self._x(segment.end)
            if segment.value is None:
                continue
            if track.is_line:
                y = top if segment.value else top + _HIGH
                first = segment.start == 0 or self._unknown_before(track, segment)
                drop = "" if first else f"M{x:.1f} {top}V{top + _HIGH}"
                yield f'<path class="line" d="{drop}M{x:.1f} {y}H{end:.1f}"/>'
            else:
                yield self._span(segment, x, end, top)
        yield from self._dots(track, top)

    def _unknown_before(self, track: Track, segment: Segment) -> bool:
        return any(other.end == segment.start and other.value is None for other in track.segments)

    def _span(self, segment: Segment, x: float, end: float, top: int) -> str:
        slope = min(5.0, self._half / 4)
        middle = top + _HIGH / 2
        left, right, low = x + slope, end - slope, top + _HIGH
        shape = f"M{x:.1f} {middle}L{left:.1f} {top}H{right:.1f}L{end:.1f} {middle}L{right:.1f} {low}H{left:.1f}Z"
        text = _fitting(segment, int((end - x - 2 * slope - 2) / _LETTER))
        return f'<path class="line" d="{shape}"/>' + self._text((x + end) / 2, middle + 4.5, text, "middle")

    def _dots(self, track: Track, top: int) -> Iterator[str]:
        """Where the samples were taken: just before either edge, under the row."""
        y = top + _HIGH + 6
        seen = [segment for segment in track.segments if segment.value is not None]
        for place, column in enumerate(self._picture.columns):
            if column.missing or not any(segment.start <= 2 * place < segment.end for segment in seen):
                continue
            edge, end = self._x(2 * place + 1), self._x(2 * place + 2)
            yield f'<circle class="early" cx="{edge - 4:.1f}" cy="{y}" r="2.2"/>'
            yield f'<circle class="late" cx="{end - 0.25 * self._half - 4:.1f}" cy="{y}" r="2.2"/>'

    def _key(self, y: float) -> str:
        return (
            f'<circle class="early" cx="16" cy="{y - 4:.1f}" r="2.2"/>'
            + self._text(26, y, "early sample", "start", "small")
            + f'<circle class="late" cx="118" cy="{y - 4:.1f}" r="2.2"/>'
            + self._text(128, y, "late sample", "start", "small")
        )

    def _text(self, x: float, y: float, text: str, anchor: str, kind: str = "") -> str:
        if not text:
            return ""
        cls = f' class="{kind}"' if kind else ""
        return f'<text{cls} x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}">{_seen(text)}</text>'


def _seen(text: str) -> str:
    """Text for an element or a quoted attribute: escaped, with what XML has no sign for (a control character in a note
    that was pasted, say) as the replacement character."""
    return escape("".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text))


def _fitting(segment: Segment, letters: int) -> str:
    """A value in so many letters: its name, what there is room for of it, or its number."""
    if len(segment.text) <= letters:
        return segment.text
    number = f"{segment.value:X}"
    if letters >= 4:
        return segment.text[: letters - 1] + "…"
    return number if len(number) <= letters else ""


def _style(theme: str) -> str:
    base = _colours(_DARK if theme == "dark" else _LIGHT)
    extra = f"@media (prefers-color-scheme: dark){{{_colours(_DARK)}}}" if theme == "auto" else ""
    return (
        f"text{{font:{_FONT}px monospace}}.small{{font-size:11px}}.line{{fill:none;stroke-width:1.8}}"
        ".guide{fill:none;stroke-width:1;stroke-dasharray:2 4}.stop{fill:none;stroke-width:4}"
        f".faint{{fill:none;stroke-width:2}}.doubt{{fill:url(#doubt)}}.early{{stroke-width:1.4}}{base}{extra}"
    )


def _colours(four: tuple[str, str, str, str]) -> str:
    ink, ground, faint, veil = four
    return (
        f".ground{{fill:{ground}}}text{{fill:{ink}}}.line,.stop{{stroke:{ink}}}.guide{{stroke:{faint}}}"
        f".faint{{stroke:{veil}}}.early{{fill:{ground};stroke:{ink}}}.late{{fill:{ink}}}"
    )


def _spoken(picture: Picture) -> str:
    numbers = [column.label for column in picture.columns if not column.missing]
    names = ", ".join(track.name for track in picture.tracks)
    return (
        f"Timing diagram of ticks {numbers[0]} to {numbers[-1]}: {names}" if numbers else "Timing diagram of no ticks"
    )
