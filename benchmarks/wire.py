"""How fast a session understands what a board says."""

from __future__ import annotations

import array
from binascii import crc32
from collections.abc import Iterator

from benchmarks.heard import MILLION, events, tape
from benchmarks.rows import Row, drain, speed
from handtick.events import Block, Tick
from handtick.session import Session

TITLE = "The wire"
NOTE = "From the bytes as a port hands them over, to events with every line and block checked."
_LINES = 100_000


def rows() -> Iterator[Row]:
    """Lines, a tick each, and blocks."""
    text = b"".join(tape(_LINES, False))
    assert sum(isinstance(event, Tick) for event in events(_LINES, False)) == _LINES
    yield speed(
        "text records",
        lambda: _decode(_LINES, False),
        "the same bytes split at line ends and spaces",
        lambda: drain(line.split(b" ") for line in text.split(b"\n")),
        _LINES,
    )
    blocks = [event for event in events(MILLION, True) if isinstance(event, Block)]
    assert sum(len(block.early) for block in blocks) == MILLION
    payloads = _payloads(blocks)
    yield speed(
        "blocks",
        lambda: _decode(MILLION, True),
        "check and `array` of the same samples",
        lambda: drain((crc32(payload), array.array("H", payload)) for payload in payloads),
        MILLION,
        aim="0.5 or more",
    )


def _decode(ticks: int, in_blocks: bool) -> None:
    session = Session(1)
    for piece in tape(ticks, in_blocks):
        session.receive(piece)


def _payloads(blocks: list[Block]) -> list[bytes]:
    found = []
    for block in blocks:
        both = array.array("H", bytes(4 * len(block.early)))
        both[::2], both[1::2] = array.array("H", block.early), array.array("H", block.late)
        found.append(both.tobytes())
    return found
