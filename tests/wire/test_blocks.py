"""Blocks of samples on the wire: whole, in pieces, torn, cut, repeated."""

from __future__ import annotations

import struct

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Block, Damage, Event, Gap, Tick
from handtick.session import Session
from handtick.wire_reader import ReportReader
from handtick_wire import framing, messages

GREETING = messages.say(
    "hello",
    **{
        name: {"number": 0, "hexadecimal": 0, "word": "x", "rate": "1"}[form]
        for name, form in messages.REPORTS["hello"]
        if name not in ("mode", "boot")
    },
    mode="moving",
    boot=1,
)

samples = st.lists(st.tuples(st.integers(0, 65535), st.integers(0, 65535)), min_size=1, max_size=40)


class Stream:
    """What a board says, line by line and block by block."""

    def __init__(self) -> None:
        self.number = 0
        self.tick = 0

    def line(self, text: bytes) -> bytes:
        """A line."""
        self.number += 1
        return framing.frame_report(self.number - 1 & 0xFFFF, text)

    def block(self, ticks: list[tuple[int, int]]) -> bytes:
        """A block of the next ticks."""
        payload = struct.pack(f"<{2 * len(ticks)}H", *(word for pair in ticks for word in pair))
        first, self.tick = self.tick + 1, self.tick + len(ticks)
        header = messages.say(
            "block",
            reset=0,
            first=first,
            count=len(ticks),
            time_us=first,
            period_ps=1_500_000,
            flags=0,
            check=framing.check(payload),
        )
        return self.line(header) + payload + b"\n"

    def record(self, early: int, late: int) -> bytes:
        """A tick's own line."""
        self.tick += 1
        return self.line(b"tick 0 %d %X %X %d 0" % (self.tick, early, late, self.tick))


def heard(session: Session, data: bytes, cuts: list[int]) -> list[Event]:
    """What a session makes of it, cut into pieces anywhere."""
    events: list[Event] = []
    at = 0
    for cut in [*sorted(cut % (len(data) + 1) for cut in cuts), len(data)]:
        events += session.receive(data[at:cut])
        at = max(at, cut)
    return events


def numbers(events: list[Event]) -> list[int]:
    """Numbers of the ticks heard, however they came."""
    found: list[int] = []
    for event in events:
        if isinstance(event, Block):
            found += range(event.first, event.last + 1)
        elif isinstance(event, Tick):
            found.append(event.tick)
    return found


def missed(events: list[Event]) -> list[int]:
    """Numbers of the ticks told to be missing."""
    return [tick for event in events if isinstance(event, Gap) for tick in range(event.first, event.last + 1)]


@given(bursts=st.lists(samples, min_size=1, max_size=5), cuts=st.lists(st.integers(0, 100_000), max_size=12))
def test_blocks_arrive_whole_in_any_pieces(bursts: list[list[tuple[int, int]]], cuts: list[int]) -> None:
    """Whatever pieces the stream is cut into, and whatever bytes the samples are, each tick comes with its samples and
    its time, and nothing is damage."""
    stream, session = Stream(), Session(1)
    session.receive(stream.line(GREETING))
    data = b"".join(stream.block(burst) + stream.record(1, 2) for burst in bursts)
    events = heard(session, data, cuts)
    assert not [event for event in events if isinstance(event, Damage)]
    ticks = [tick for event in events for tick in (event.ticks() if isinstance(event, Block) else [event])]
    expected = [pair for burst in bursts for pair in [*burst, (1, 2)]]
    assert [(tick.early, tick.late) for tick in ticks] == expected  # type: ignore[union-attr]
    assert numbers(events) == list(range(1, len(expected) + 1))
    [first, *_] = [event for event in events if isinstance(event, Block)]
    assert list(first.times_us) == [1 + place * 3 // 2 for place in range(len(bursts[0]))]


@pytest.mark.fault(
    "link",
    "a block of samples torn or changed anywhere",
    "a gap with the numbers of its ticks; all others whole",
)
@given(
    before=samples,
    torn=samples,
    after=st.lists(samples, min_size=1, max_size=3),
    at=st.integers(0, 10_000),
    data=st.data(),
)
def test_torn_block_costs_what_it_held(
    before: list[tuple[int, int]],
    torn: list[tuple[int, int]],
    after: list[list[tuple[int, int]]],
    at: int,
    data: st.DataObject,
) -> None:
    """With bytes of one block lost or changed anywhere, the ticks of all others arrive as they were, and those of that
    block are told to be missing: no tick twice, none with a wrong sample, none in silence."""
    stream, session = Stream(), Session(1)
    session.receive(stream.line(GREETING))
    whole, broken = stream.block(before), stream.block(torn)
    rest = b"".join(stream.block(burst) + stream.record(5, 6) for burst in after)
    at %= len(broken)
    if data.draw(st.booleans(), "cut"):
        length = data.draw(st.integers(1, len(broken) - at), "bytes lost")
        broken = broken[:at] + broken[at + length :]
    else:
        broken = broken[:at] + bytes([broken[at] ^ data.draw(st.integers(1, 255), "bits")]) + broken[at + 1 :]
    events = heard(session, whole + broken + rest, [])
    came, gone = numbers(events), missed(events)
    assert sorted(came + gone) == list(range(1, stream.tick + 1))
    lost = range(len(before) + 1, len(before) + len(torn) + 1)
    assert set(gone) <= set(lost)
    for event in events:
        if isinstance(event, Block) and event.first == len(before) + 1:
            assert list(zip(event.early, event.late, strict=True)) == torn


@pytest.mark.fault(
    "link",
    "a block that arrives twice",
    "nothing",
)
@given(burst=samples, again=samples)
def test_repeated_block_is_not_counted_twice(burst: list[tuple[int, int]], again: list[tuple[int, int]]) -> None:
    """A block that comes twice is the same ticks twice: the account does not move."""
    stream, session = Stream(), Session(1)
    session.receive(stream.line(GREETING))
    once = stream.block(burst)
    events = heard(session, once + once + stream.block(again), [])
    assert not missed(events)
    assert numbers(events) == list(range(1, len(burst) + len(again) + 1))


def test_header_that_asks_for_too_much_is_a_line() -> None:
    """A block said to be longer than any is not waited for."""
    reader = ReportReader()
    header = framing.frame_report(
        0, messages.say("block", reset=0, first=1, count=10**9, time_us=0, period_ps=0, flags=0, check=0)
    )
    assert reader.feed(header + b"#rest\n") == [header[:-1], b"#rest"]
