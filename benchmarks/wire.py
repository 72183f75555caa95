"""How fast a session understands what a board says."""

from __future__ import annotations

import array
import base64
from binascii import crc32
from collections.abc import Iterator

from benchmarks.heard import MILLION, events, tape
from benchmarks.rows import Row, drain, speed
from handtick.events import Block, Tick
from handtick.session import Session

TITLE = "The wire"
NOTE = (
    "From the bytes as a port hands them over, to events with every line and block checked. Blocks are held against "
    "what a wire of text would have to do with the same samples, and against what any wire that checks them has to do; "
    "neither floor has a line to read, or parts early samples from late ones."
)
_LINES = 100_000
# A run of a million ticks in blocks takes a few hundredths of a second.
_BLOCK_RUNS = 25


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
    texts = [base64.b64encode(payload) for payload in payloads]
    yield speed(
        "blocks",
        lambda: _decode(MILLION, True),
        "`base64` and `array` of the same samples",
        lambda: drain(array.array("H", base64.b64decode(text)) for text in texts),
        MILLION,
        runs=_BLOCK_RUNS,
        aim="0.5 or more",
    )
    yield speed(
        "the same blocks",
        lambda: _decode(MILLION, True),
        "check and `array` of the same samples",
        lambda: drain((crc32(payload), array.array("H", payload)) for payload in payloads),
        MILLION,
        runs=_BLOCK_RUNS,
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
