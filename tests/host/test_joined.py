"""Both ends joined in memory: the board's real loop, the real session and a real log, with a bad link between them."""

from __future__ import annotations

import itertools
import re
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.log import LogReader, Tick
from handtick.log.check import check
from handtick.wire_reader import TICK_BYTES
from tests.host.evening import Evening, contents, evening, logged

EVENING = evening()


def lines_of(said: bytes) -> Iterator[bytes]:
    """What was said, line by line; a block's line with the bytes that belong to it."""
    at = 0
    while at < len(said):
        end = said.index(b"\n", at) + 1
        block = re.search(rb" block .* count=(\d+)", said[at:end])
        if block is not None:
            end += TICK_BYTES * int(block[1]) + 1
        yield said[at:end]
        at = end


LINES = list(lines_of(EVENING.middle))


@pytest.fixture
def whole(tmp_path: Path) -> dict[str, list[object]]:
    """The log of the evening heard in one piece."""
    logged(tmp_path / "whole.sqlite3", [EVENING.stream])
    return contents(tmp_path / "whole.sqlite3")


def test_whole_stream_gives_every_tick_once(whole: dict[str, list[object]], tmp_path: Path) -> None:
    """Heard without a fault, the log holds every tick the board made and nothing is missing or wrong."""
    keys = [tick.key for tick in whole["ticks"] if isinstance(tick, Tick)]
    assert keys == [(1, reset, tick) for reset, last in enumerate(EVENING.ticks) for tick in range(1, last + 1)]
    assert len(keys) == EVENING.edges
    assert not whole["gaps"]
    assert not whole["damage"]
    assert not whole["conflicts"]
    logged(tmp_path / "again.sqlite3", [EVENING.stream])
    assert [finding for finding in check(tmp_path / "again.sqlite3") if finding.kind != "there"] == []


@pytest.mark.fault(
    "link",
    "what the board says arrives in any pieces",
    "nothing",
)
@settings(max_examples=60)
@given(places=st.lists(st.integers(0, len(EVENING.stream)), max_size=60))
def test_stream_cut_anywhere_gives_the_same_log(places: list[int]) -> None:
    """The bytes cut and joined anywhere give the same log, to the last row."""
    edges = sorted({0, *places, len(EVENING.stream)})
    pieces = [EVENING.stream[first:last] for first, last in itertools.pairwise(edges)]
    assert log_of(pieces) == log_of([EVENING.stream])


def test_stream_byte_by_byte_gives_the_same_log(whole: dict[str, list[object]]) -> None:
    """The bytes one at a time give the same log."""
    assert log_of([bytes([byte]) for byte in EVENING.stream]) == whole


@pytest.mark.fault(
    "link",
    "lines that arrive twice",
    "nothing",
)
@settings(max_examples=60)
@given(again=st.sets(st.integers(0, len(LINES) - 1)))
def test_lines_that_come_twice_give_the_same_log(again: set[int]) -> None:
    """Lines that the link repeats at once change nothing."""
    lines = [line * (2 if number in again else 1) for number, line in enumerate(LINES)]
    assert log_of([EVENING.opening, *lines, EVENING.closing]) == log_of([EVENING.stream])


@st.composite
def wounded(draw: st.DrawFn) -> bytes:
    """What was said between the greetings with bytes changed, stretches missing, and junk put in."""
    data = bytearray(EVENING.middle)
    for _ in range(draw(st.integers(1, 12))):
        at = draw(st.integers(0, len(data) - 1))
        deed = draw(st.sampled_from(["change", "cut", "cut far", "junk"]))
        if deed == "change":
            data[at] ^= draw(st.integers(1, 255))
        elif deed == "junk":
            data[at:at] = draw(st.binary(min_size=1, max_size=40))
        else:
            del data[at : at + draw(st.integers(1, 60 if deed == "cut" else 3000))]
        if not data:
            break
    return bytes(data)


@pytest.mark.fault(
    "link",
    "any bytes in place of what the board said",
    "the ticks that are missing, by number",
)
@settings(max_examples=150)
@given(middle=wounded())
def test_ticks_logged_and_ticks_missed_are_all_ticks_made(middle: bytes) -> None:
    """Whatever the link does, rows, gaps and ticks known by number alone add up to the ticks made, none twice, and no
    row says anything else than the board said."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite3"
        logged(path, [EVENING.opening, middle, EVENING.closing])
        judge_account(path, EVENING)


def judge_account(path: Path, truth: Evening) -> None:
    """Rows, gaps and unplaced ticks add up; every row is as the board said it."""
    with LogReader.open(path) as log:
        ticks = list(log.all_ticks())
        gaps = log.gaps()
        unplaced = sum(each.count for each in log.unplaced())
        assert not list(log.conflicts())
    for tick in ticks:
        assert SAID[tick.key] == tick
    missed = [(gap.reset, tick) for gap in gaps for tick in range(gap.first_tick, gap.last_tick + 1)]
    assert len(missed) == len(set(missed)), "a tick is missed once"
    assert not {(tick.reset, tick.tick) for tick in ticks} & set(missed), "a tick is not both there and missed"
    assert len(ticks) + len(missed) + unplaced == truth.edges


def log_of(pieces: list[bytes]) -> dict[str, list[object]]:
    """What the log of these pieces holds."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite3"
        logged(path, pieces)
        return contents(path)


SAID = {tick.key: tick for tick in log_of([EVENING.stream])["ticks"] if isinstance(tick, Tick)}
