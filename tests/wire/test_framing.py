"""Lines on the wire: found whole whatever pieces they arrive in, and refused when anything of them is not as sent."""

from __future__ import annotations

import itertools
from binascii import crc32

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick_wire import framing
from handtick_wire.framing import LONGEST_LINE, LineFinder, frame_command, frame_report, open_frame

texts = st.text(
    st.characters(min_codepoint=33, max_codepoint=126, exclude_characters="#@"), min_size=1, max_size=60
).map(str.encode)


def cut(data: bytes, places: list[int]) -> list[bytes]:
    """The bytes in pieces, cut at these places."""
    edges = sorted({place % (len(data) + 1) for place in places} | {0, len(data)})
    return [data[first:last] for first, last in itertools.pairwise(edges)]


@given(number=st.integers(0, 0xFFFF), text=texts)
def test_reports_open_as_they_were_framed(number: int, text: bytes) -> None:
    """A report's running number and text come back."""
    line = frame_report(number, text)
    assert line[-1:] == b"\n"
    assert open_frame(line[:-1]) == (b"%04X" % number, text)


@given(command_id=st.integers(1, 2**64), text=texts)
def test_commands_open_as_they_were_framed(command_id: int, text: bytes) -> None:
    """A command's id and text come back."""
    assert open_frame(frame_command(command_id, text)[:-1]) == (b"%d" % command_id, text)


def test_check_is_the_crc_of_ieee_802_3() -> None:
    """The check of a report is the CRC-32 that everybody knows, over what stands between start byte and check."""
    assert crc32(b"123456789") == 0xCBF43926
    body = b"0001 tick 1 42 0 0 99 0"
    assert frame_report(1, b"tick 1 42 0 0 99 0") == b"#%s %08X\n" % (body, crc32(body))


@given(text=texts, place=st.integers(1, 200), change=st.integers(1, 255))
def test_changed_byte_is_refused(text: bytes, place: int, change: int) -> None:
    """A line in which one byte is not as sent does not open."""
    line = bytearray(frame_report(7, text)[:-1])
    place = 1 + place % (len(line) - 1)
    line[place] ^= change
    assert open_frame(bytes(line)) is None


@given(text=texts, first=st.integers(0, 200), length=st.integers(1, 200))
def test_line_with_a_piece_missing_is_refused(text: bytes, first: int, length: int) -> None:
    """A line of which some stretch did not arrive does not open."""
    line = frame_report(7, text)[:-1]
    first = 1 + first % (len(line) - 1)
    torn = line[:first] + line[first + length :]
    assert open_frame(torn) is None


@given(lines=st.lists(texts, max_size=8), places=st.lists(st.integers(0, 2000), max_size=20))
def test_lines_are_found_however_they_are_cut(lines: list[bytes], places: list[int]) -> None:
    """Lines split and joined anywhere are found whole and in order."""
    stream = b"".join(frame_report(number, text) for number, text in enumerate(lines))
    finder = LineFinder(framing.REPORT_START)
    pieces = [piece for part in cut(stream, places) for piece in finder.feed(part)]
    assert [open_frame(piece) for piece in pieces] == [(b"%04X" % number, text) for number, text in enumerate(lines)]
    assert finder.held() == b""


@given(data=st.binary(max_size=3000), places=st.lists(st.integers(0, 4000), max_size=20))
def test_junk_is_cut_at_start_bytes_and_never_kept_for_long(data: bytes, places: list[int]) -> None:
    """Any bytes give pieces with a start byte first or nowhere, and never more is kept than a line."""
    finder = LineFinder(b"@")
    pieces = []
    for part in cut(data, places):
        pieces += finder.feed(part)
        assert len(finder.held()) <= LONGEST_LINE + len(part)
    for piece in pieces:
        assert piece
        assert b"@" not in piece[1:]
        assert b"\n" not in piece


@given(junk=st.binary(max_size=2000), places=st.lists(st.integers(0, 3000), max_size=20))
def test_line_after_junk_is_found(junk: bytes, places: list[int]) -> None:
    """After any junk and a line end the next line is found whole."""
    finder = LineFinder(b"#")
    stream = junk + b"\n" + frame_report(3, b"bye 1")
    pieces = [piece for part in cut(stream, places) for piece in finder.feed(part)]
    assert open_frame(pieces[-1]) == (b"0003", b"bye 1")


def test_torn_line_costs_itself_alone() -> None:
    """A line cut short by the beginning of the next is junk; the next is whole."""
    finder = LineFinder(b"#")
    whole = frame_report(2, b"tick 0 1043 FF FF 1 0")
    pieces = finder.feed(frame_report(1, b"tick 0 1042 B0 B0 1 0")[:14] + whole)
    assert [open_frame(piece) is not None for piece in pieces] == [False, True]


@pytest.mark.parametrize("tail", [b"step 3", b"typing on"])
def test_tail_of_an_overlong_line_never_reads_as_typed(tail: bytes) -> None:
    """What is left of a line that was too long is not taken for something a person typed."""
    for length in (LONGEST_LINE, LONGEST_LINE + 1, 3 * LONGEST_LINE):
        finder = LineFinder(b"@")
        pieces = finder.feed(b"x" * length) + finder.feed(b"y" * 10) + finder.feed(b"\n" + tail + b"\n")
        assert pieces[-1] == tail
        finder = LineFinder(b"@")
        pieces = finder.feed(b"x" * (LONGEST_LINE + 1)) + finder.feed(tail + b"\n")
        assert tail not in pieces
