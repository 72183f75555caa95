"""Timing diagrams: what they show is what the log has, and it can be read."""

from __future__ import annotations

import itertools
import re
import xml.etree.ElementTree as ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.diagram import draw_svg, draw_text, lay_out
from handtick.log import Note, Run, Tick
from handtick.wiring import Bus, Wiring
from handtick_wire.messages import FLAG_IN_RESET, FLAG_UNSETTLED
from tests.host.test_exports import logs

WIRING = Wiring(
    (
        Bus("data", tuple(range(8))),
        Bus("giver", (8, 9, 10), "names", names={0: "program", 7: "operand <&>"}),
        Bus("line", (15,), "decimal"),
    )
)


def ticks(count: int, first: int = 1) -> list[Tick]:
    """Ticks as a machine might make them."""
    values = [at * 0x1357 & 0xFFFF for at in range(count + 1)]
    return [Tick(1, 0, first + at, values[at], values[at + 1], at * 1000, 0) for at in range(count)]


@given(log=logs())
def test_every_half_shows_its_sample(log: list[Tick]) -> None:
    """Each tick's first half has its early value, its second the late one; between ticks that are missing, nothing."""
    picture = lay_out(log, WIRING)
    shown = [column for column in picture.columns if not column.missing]
    assert [column.label for column in shown] == [str(tick.tick) for tick in log]
    for bus, track in zip(WIRING.buses, picture.tracks, strict=True):
        assert [segment.start for segment in track.segments] == [0, *(each.end for each in track.segments[:-1])]
        assert track.segments[-1].end == picture.halves
        assert all(one.value != other.value for one, other in itertools.pairwise(track.segments))
        values = [each.value for each in track.segments for _ in range(each.end - each.start)]
        rest = iter(log)
        for place, column in enumerate(picture.columns):
            tick = None if column.missing else next(rest)
            for half, sample in enumerate((None, None) if tick is None else (tick.early, tick.late)):
                assert values[2 * place + half] == (None if sample is None else bus.value(sample))


def test_notes_stops_resets_and_doubts_are_marked() -> None:
    """Each has a mark at its tick, and is told under the diagram."""
    log = [Tick(1, 0, 1, 1, 2, 5, FLAG_IN_RESET), Tick(1, 0, 2, 2, 3, 9, FLAG_UNSETTLED), Tick(1, 0, 7, 3, 4, 99, 0)]
    notes = [Note(1, 1, 0, 2, "carry came on", 0, "")]
    runs = [Run(1, 1, 0, 1, "step:2", 0, "", 2, "halt-line", 0, "")]
    picture = lay_out(log, WIRING, notes, runs)
    assert [column.label for column in picture.columns] == ["1", "2", "4 missing", "7"]
    assert picture.columns[0].in_reset
    assert picture.columns[1].doubtful
    text = draw_text(picture)
    assert re.search(r"^tick +1r +2\?\*# +4 missing +7$", text, re.MULTILINE)
    assert "* tick 2: carry came on" in text
    assert "# after tick 2: the machine asserted its halt line" in text
    svg = draw_svg(picture)
    for words in ("note 1", "reset", "4 missing", "carry came on", "the machine asserted its halt line"):
        assert words in svg


def test_lines_can_be_chosen() -> None:
    """Only those named, in the order named."""
    picture = lay_out(ticks(3), WIRING, lines=["line", "data"])
    assert [track.name for track in picture.tracks] == ["line", "data"]
    with pytest.raises(KeyError):
        lay_out(ticks(3), WIRING, lines=["frob"])


@given(log=logs(), width=st.integers(30, 200))
def test_text_keeps_to_the_width_of_the_terminal(log: list[Tick], width: int) -> None:
    """Whatever the terminal's width, no row is wider, unless one tick is."""
    rows = [row for row in draw_text(lay_out(log, WIRING), width).splitlines() if not row.startswith(("*", "#"))]
    assert max(map(len, rows)) <= max(width, 8 + 2 * 12)


@pytest.mark.parametrize("count", [1, 2, 12, 64])
@pytest.mark.parametrize("theme", ["auto", "light", "dark"])
def test_words_do_not_lie_on_each_other(count: int, theme: str) -> None:
    """The drawing is well-formed, and no two texts of it overlap or leave it."""
    svg = draw_svg(lay_out(ticks(count, 95), WIRING), theme)
    root = ElementTree.fromstring(svg)
    assert "<&>" not in svg
    width = float(root.attrib["width"])
    boxes = []
    for text in root.iter("{http://www.w3.org/2000/svg}text"):
        size = 11 if text.get("class") == "small" else 13
        x, y, long = float(text.attrib["x"]), float(text.attrib["y"]), 0.6 * size * len(text.text or "")
        left = {"start": x, "middle": x - long / 2, "end": x - long}[text.attrib["text-anchor"]]
        boxes.append((left, y - 0.8 * size, left + long, y, text.text))
    assert len(boxes) > count
    for box in boxes:
        assert box[0] >= -1
        assert box[2] <= width + 1
    for one, other in itertools.combinations(boxes, 2):
        assert one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1], (one, other)


@given(name=st.text(min_size=1, max_size=8), note=st.text(max_size=12))
def test_any_name_and_note_is_drawn_as_text(name: str, note: str) -> None:
    """A name or note with quotes, angle brackets or control characters stays text: nothing of it becomes markup."""
    plain = [Note(1, 1, 0, 2, "x", 0, "")]
    noted = [Note(1, 1, 0, 2, note, 0, "")]
    tidy = ElementTree.fromstring(draw_svg(lay_out(ticks(3), WIRING, plain)))
    drawn = ElementTree.fromstring(draw_svg(lay_out(ticks(3), Wiring((Bus(name, (0, 1)),)), noted)))
    assert {part.tag for part in drawn.iter()} <= {part.tag for part in tidy.iter()}
    assert {key for part in drawn.iter() for key in part.attrib} <= {key for part in tidy.iter() for key in part.attrib}


def contrast(one: str, other: str) -> float:
    """The contrast of two colours (WCAG 2.2, relative luminance)."""

    def luminance(colour: str) -> float:
        parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
        linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
        return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]

    high, low = sorted((luminance(one), luminance(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_ink_stands_out_from_its_ground_and_has_no_hue(theme: str) -> None:
    """Text has a contrast over 4.5 to 1, and every colour is a grey: nothing is told by colour."""
    svg = draw_svg(lay_out(ticks(4), WIRING), theme)
    colours = dict(re.findall(r"(text|\.ground)\{fill:(#[0-9a-f]{6})", svg))
    assert contrast(colours["text"], colours[".ground"]) >= 4.5
    assert all(len({colour[1:3], colour[3:5], colour[5:7]}) == 1 for colour in re.findall(r"#[0-9a-f]{6}", svg))
