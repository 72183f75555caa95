"""Larch, the demonstration machine: what its probes show and what a tick does."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from handtick.virtual import larch_code as code
from handtick.virtual.larch import WEEK, Larch
from tests.host.larch_by_hand import by_hand, everything, gauges, kept_by, programs, tick, ticks

DOCS = Path(__file__).parents[2] / "docs" / "larch.md"


@given(program=programs, gauge=gauges)
def test_ticks_add_up_to_what_the_instructions_say(program: bytes, gauge: list[int]) -> None:
    """Each instruction takes two or three ticks and leaves Larch as working it out by hand says it must."""
    larch = Larch(program, gauge)
    for _, (length, kept, scratch) in zip(range(120), by_hand(program, gauge), strict=False):
        for place in range(length):
            assert (larch.probes() >> 15 == 1) == (place == 0)
            tick(larch)
        assert (kept_by(larch), bytes(larch.scratch)) == (kept, scratch)


@pytest.mark.parametrize(
    ("giver", "tally", "operand", "zero", "carry"),
    [
        (code.SUM, 3, 4, False, False),
        (code.SUM, 0, 0, True, False),
        (code.SUM, 200, 56, True, True),
        (code.SUM, 200, 57, False, True),
        (code.LESS, 4, 3, False, False),
        (code.LESS, 4, 4, True, False),
        (code.LESS, 3, 4, False, True),
    ],
)
@pytest.mark.parametrize("taker", [code.GO, code.GO_IF_ZERO, code.GO_IF_CARRY, code.GO_UNLESS_CARRY])
def test_branch_goes_by_the_last_sum_or_difference(
    giver: int, tally: int, operand: int, zero: bool, carry: bool, taker: int
) -> None:
    """A branch is taken as zero and carry of the last sum or difference say; moves in between do not change them."""
    lines: list[code.Line | str] = [
        (code.OPERAND, code.TO_TALLY, tally),
        (giver, code.TEST, operand),
        (code.OPERAND, taker, 99),
    ]
    larch = Larch(code.assemble(lines))
    for _ in range(9):
        tick(larch)
    goes = {code.GO: True, code.GO_IF_ZERO: zero, code.GO_IF_CARRY: carry, code.GO_UNLESS_CARRY: not carry}
    assert (larch.zero, larch.carry) == (zero, carry)
    assert larch.counter == (99 if goes[taker] else 6)


def test_branch_given_a_sum_goes_by_that_sum() -> None:
    """A sum moved straight to a branch is judged itself, not the one before it."""
    larch = Larch(code.assemble([(code.OPERAND, code.TO_TALLY, 200), (code.SUM, code.GO_IF_CARRY, 100)]))
    for _ in range(6):
        tick(larch)
    assert larch.counter == 300 - 256


@given(program=programs, gauge=gauges, count=ticks)
def test_taker_latches_what_the_early_sample_shows(program: bytes, gauge: list[int], count: int) -> None:
    """What is on the bus just before the rising edge is what the taker on the probes holds after it."""
    larch = Larch(program, gauge)
    for _ in range(count):
        if larch.halted:
            return
        pointer = larch.pointer
        early, _ = tick(larch)
        bus, taker = early & 0xFF, code.decode_step(early).taker
        if taker in ("tally", "operand", "day", "pointer"):
            assert getattr(larch, taker) == bus
        elif taker == "scratch":
            assert larch.scratch[pointer] == bus
        elif taker == "lamp":
            assert larch.lamp == (bus != 0)
        elif taker == "go":
            assert larch.counter == bus


@given(program=programs, count=ticks)
def test_late_sample_shows_the_next_tick(program: bytes, count: int) -> None:
    """The late sample of a tick is the early sample of the next."""
    larch = Larch(program)
    samples = [tick(larch) for _ in range(count)]
    assert [late for _, late in samples[:-1]] == [early for early, _ in samples[1:]]


def test_fetch_is_on_the_probes() -> None:
    """The first tick of an instruction shows probe 15 high, the instruction byte, and program and instruction as
    giver and taker."""
    larch = Larch(bytes([code.instruction(code.GAUGE, code.TO_LAMP)]))
    assert larch.probes() == 1 << 15 | code.INSTRUCTION << 11 | code.PROGRAM << 8 | 0b011_0111_0
    _, late = tick(larch)
    assert late == code.TO_LAMP << 11 | code.GAUGE << 8 | WEEK[0]


@given(program=programs, levels=st.lists(st.booleans(), max_size=200))
def test_only_a_rising_edge_is_a_tick(program: bytes, levels: list[bool]) -> None:
    """A falling edge, or being told the level the clock line already has, changes nothing."""
    larch, ticked = Larch(program), Larch(program)
    before = False
    for level in levels:
        larch.set_clock(level)
        if level and not before:
            tick(ticked)
        before = level
        assert everything(larch) == everything(ticked)


@given(gauge=st.binary(max_size=256), day=st.integers(0, 255))
@example(gauge=bytes(range(256)), day=255)
@example(gauge=bytes(range(1, 10)), day=8)
@example(gauge=bytes(range(1, 10)), day=9)
def test_gauge_gives_the_tips_of_the_day(gauge: bytes, day: int) -> None:
    """The gauge gives the tips of the day in the day register, for up to 256 days, and zero past the last one."""
    larch = Larch(code.assemble([(code.OPERAND, code.TO_DAY, day), (code.GAUGE, code.TO_TALLY, None)]), gauge)
    for _ in range(5):
        tick(larch)
    assert larch.tally == (gauge[day] if day < len(gauge) else 0)


def test_scratch_memory_has_256_bytes_of_its_own() -> None:
    """The pointer reaches each of 256 bytes of scratch memory, and what is kept in one stays out of the others."""
    for place in range(256):
        keep = [(code.OPERAND, code.TO_POINTER, place), (code.OPERAND, code.TO_SCRATCH, 77)]
        larch = Larch(code.assemble([*keep, (code.SCRATCH, code.TO_TALLY, None)]))
        for _ in range(8):
            tick(larch)
        assert larch.tally == 77
        assert [at for at, byte in enumerate(larch.scratch) if byte] == [place]


@pytest.mark.parametrize(
    ("program", "gauge", "words"),
    [
        (bytes(257), WEEK, "a program of 257 bytes is too long; 256 is the most"),
        (b"", [0] * 257, "a gauge of 257 days is too long; 256 is the most"),
        (b"", [3, 256], "the gauge gives 256 tips on day 1; a day has 0 to 255"),
        (b"", [-1], "the gauge gives -1 tips on day 0; a day has 0 to 255"),
    ],
)
def test_what_does_not_fit_is_refused(program: bytes, gauge: list[int], words: str) -> None:
    """A program or a gauge that does not fit is refused with the number that is wrong."""
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        Larch(program, gauge)


def test_page_has_the_tables_of_the_code() -> None:
    """The tables of givers and takers in docs/larch.md are the ones Larch works by."""
    _, _, rest = DOCS.read_text(encoding="utf-8").partition("<!-- generated: instruction table -->\n")
    assert rest.partition("<!-- end -->")[0].strip("\n") == code.instruction_table().strip("\n")
