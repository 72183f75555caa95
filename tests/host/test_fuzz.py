"""Any bytes at all, both ways: nothing breaks, nothing ticks unasked, nothing grows."""

from __future__ import annotations

import os
import random
import sys

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Block, Tick
from handtick.session import Session
from handtick.virtual.board import VirtualBoard
from handtick_wire import messages
from tests.board.still_machine import StillMachine
from tests.host.evening import evening

#: Bytes each way and seed.
BYTES = 1_250_000 if os.environ.get("HANDTICK_LONG") else 100_000
SEEDS = range(8) if os.environ.get("HANDTICK_LONG") else range(2)
_SAID = evening().stream


def spoiled(data: bytes, chance: random.Random) -> bytes:
    """A stretch of something real, changed in a few places, or bytes of no meaning at all."""
    kind = chance.randrange(4)
    if kind == 0:
        return chance.randbytes(chance.randrange(1, 2000))
    at = chance.randrange(len(data))
    piece = bytearray(data[at : at + chance.randrange(1, 2000)])
    for _ in range(chance.randrange(1, 12)):
        place = chance.randrange(len(piece))
        if kind == 1:
            piece[place] ^= 1 << chance.randrange(8)
        elif kind == 2:
            piece[place:place] = chance.choice([b"#", b"@", b"\n", b"\0", b" block ", chance.randbytes(3)])
        else:
            del piece[place : place + chance.randrange(1, 20)]
            piece = piece or bytearray(b"x")
    return bytes(piece)


def commands(chance: random.Random) -> bytes:
    """Commands of a program, each with a check that is wrong by something."""
    session = Session(chance.getrandbits(60))
    lines = []
    for _ in range(30):
        kind = chance.choice(sorted(messages.COMMANDS))
        values = [chance.choice([0, 1, 7, 2**64, "1000", "low", "N1,E00FF=2A"]) for _ in messages.COMMANDS[kind]]
        line = bytearray(session.command(kind, *values)[1])
        line[chance.randrange(1, len(line) - 1)] ^= chance.randrange(1, 256)
        lines.append(bytes(line))
    return b"".join(lines)


@pytest.mark.fault(
    "link",
    "ten million bytes of junk and spoiled lines to the host",
    "damage, with where it came; no tick that was not made",
)
@pytest.mark.parametrize("seed", SEEDS)
def test_session_bears_any_bytes(seed: int) -> None:
    """A host that hears spoiled lines, blocks and junk raises nothing, holds on to little, and takes no tick for true
    whose check does not fit: what it hears of ticks is what the board really said."""
    chance = random.Random(seed)
    session = Session(1)
    told = {(tick.reset, tick.tick, tick.early, tick.late) for tick in _ticks(Session(1), _SAID)}
    heard = 0
    while heard < BYTES:
        data = spoiled(_SAID, chance)
        heard += len(data)
        for tick in _ticks(session, data):
            assert (tick.reset, tick.tick, tick.early, tick.late) in told
    assert len(session.disconnected()) <= 2
    assert sys.getsizeof(session._reader._payload) < 600_000


def _ticks(session: Session, data: bytes) -> list[Tick]:
    found: list[Tick] = []
    for event in session.receive(data):
        if isinstance(event, Tick):
            found.append(event)
        elif isinstance(event, Block):
            found += event.ticks()
    return found


@pytest.mark.fault(
    "link",
    "ten million bytes of junk and spoiled commands to the board",
    "a count of commands it could not trust; no tick",
)
@pytest.mark.parametrize("seed", SEEDS)
def test_board_bears_any_bytes_and_ticks_for_none_of_them(seed: int) -> None:
    """A board that gets spoiled commands and junk raises nothing, makes no edge, and queues no more than it may."""
    chance = random.Random(seed)
    board = VirtualBoard(StillMachine())
    board.port.host_open()
    greeting = Session(1).greet()[1]
    got = 0
    while got < BYTES:
        data = chance.choice([greeting, commands(chance), spoiled(_SAID, chance), chance.randbytes(500)])
        got += len(data)
        board.port.host_write(data)
        board.run_until(board.now_us + 1000)
        board.port.host_read()
        assert board.board.outbox._reports <= 200
    assert board.line.edges == []
    assert board.reset_line.edges == []
    assert len(board.board.desk._finder.held()) <= 1000


@given(pieces=st.lists(st.one_of(st.binary(max_size=300), st.integers(0, len(_SAID) - 1)), max_size=20))
def test_session_bears_whatever_hypothesis_thinks_of(pieces: list[bytes | int]) -> None:
    """Stretches of what a board said between any bytes: no exception, and no tick that was not made."""
    session = Session(1)
    told = {(tick.reset, tick.tick) for tick in _ticks(Session(1), _SAID)}
    for piece in pieces:
        data = piece if isinstance(piece, bytes) else _SAID[piece : piece + 700]
        assert {(tick.reset, tick.tick) for tick in _ticks(session, data)} <= told
