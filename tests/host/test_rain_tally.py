"""The rain tally and the long tally, the assembler they are written with, and the words for each step."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.virtual import larch_code as code
from handtick.virtual.larch import WEEK, Larch
from handtick.virtual.rain_tally import LONG_TALLY, RAIN_TALLY, WET_FROM, rain_tally_listing

DOCS = Path(__file__).parents[2] / "docs" / "larch.md"

weeks = st.one_of(
    st.lists(st.integers(0, 255), min_size=7, max_size=7),
    st.lists(st.integers(0, 12), min_size=7, max_size=7),
)


def run(gauge: Sequence[int]) -> tuple[Larch, int]:
    """Runs the rain tally to its halt; gives the machine and the number of ticks."""
    larch = Larch(RAIN_TALLY, gauge)
    ticks = 0
    while not larch.halted:
        larch.set_clock(True)
        larch.set_clock(False)
        ticks += 1
        assert ticks < 1000
    return larch, ticks


@given(week=weeks)
def test_lamp_tells_a_wet_week(week: list[int]) -> None:
    """The lamp is lit exactly when the week's tips reach the threshold, even if they are more than a byte holds."""
    larch, _ = run(week)
    assert larch.lamp == (sum(week) >= WET_FROM)


@given(week=weeks.filter(lambda week: sum(week) < 256))
def test_sum_stands_in_the_scratch_memory(week: list[int]) -> None:
    """After the halt the scratch memory holds the week's tips."""
    larch, _ = run(week)
    assert larch.scratch[0] == sum(week)


@pytest.mark.parametrize(
    ("week", "wet"),
    [
        ((0, 0, 0, 0, 0, 0, WET_FROM - 1), False),
        ((WET_FROM, 0, 0, 0, 0, 0, 0), True),
        ((0, 0, 0, 0, 0, 0, 0), False),
        ((128, 0, 0, 0, 0, 0, 128), True),
        ((255, 255, 255, 255, 255, 255, 255), True),
    ],
)
def test_weeks_at_the_border(week: tuple[int, ...], wet: bool) -> None:
    """One tip too few is a dry week, just enough is a wet one, and a sum that wraps to zero is no drought."""
    larch, _ = run(week)
    assert larch.lamp == wet


def test_built_in_week_takes_138_ticks() -> None:
    """The built-in week is wet, its 47 tips are on the bus in the last tick, and that is tick 138."""
    larch, ticks = run(WEEK)
    assert (larch.lamp, larch.scratch[0], ticks) == (True, 47, 138)


@given(week=weeks)
def test_rain_tally_is_short_enough_to_watch(week: list[int]) -> None:
    """Whatever the weather, the rain tally halts within 150 ticks."""
    assert run(week)[1] <= 150


@given(week=weeks)
def test_long_tally_tells_the_same_week_by_week(week: list[int]) -> None:
    """The long tally starts again and again, never halts, and its lamp says what the rain tally's says."""
    larch = Larch(LONG_TALLY, week)
    starts = 0
    for _ in range(1000):
        starts += larch.counter == 0 and larch.probes() >> 15 == 1
        larch.set_clock(True)
        larch.set_clock(False)
    assert starts >= 7
    assert not larch.halted
    assert larch.lamp == run(week)[0].lamp


@pytest.mark.parametrize(
    ("early", "giver", "taker", "text"),
    [
        (0x8866, "program", "instruction", "fetch: gauge -> operand"),
        (0x88E9, "program", "instruction", "fetch: operand -> day with a literal"),
        (0x1807, "program", "operand", "literal 7"),
        (0x1B04, "gauge", "operand", "gauge 4 -> operand"),
        (0x652F, "scratch", "halt", "scratch 47 -> halt"),
    ],
)
def test_sample_in_words(early: int, giver: str, taker: str, text: str) -> None:
    """An early sample says which giver gave which taker what."""
    assert code.decode_step(early) == (giver, taker, text)


def test_every_step_of_the_week_has_words() -> None:
    """In the rain tally every taker that a tick shows is one it uses, and no step is nameless."""
    larch = Larch(RAIN_TALLY)
    takers = set()
    while not larch.halted:
        takers.add(code.decode_step(larch.probes()).taker)
        larch.set_clock(True)
        larch.set_clock(False)
    assert takers == {
        *("instruction", "operand", "scratch", "day", "tally", "test", "lamp", "halt"),
        *("go if carry", "go unless carry"),
    }


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([(code.OPERAND, code.GO, "shed")], "no place is called 'shed'"),
        (["shed", "shed"], "two places are called 'shed'"),
        ([(code.OPERAND, code.TO_LAMP, 256)], "literal 256 is no byte"),
        ([(code.OPERAND, code.TO_LAMP, -1)], "literal -1 is no byte"),
        ([(8, code.TO_LAMP, None)], "there is no giver 8; 0 to 7 are"),
        ([(code.TALLY, 16, None)], "there is no taker 16; 0 to 15 are"),
        ([(code.TALLY, code.TO_LAMP, None)] * 257, "a program of 257 bytes is too long; 256 is the most"),
        (
            [(code.PROGRAM, code.TO_LAMP, None)],
            "the program memory would give the byte after 'program -> lamp' away",
        ),
    ],
)
def test_mistake_in_a_program_is_named(lines: list[code.Line | str], words: str) -> None:
    """A mistake in a program is refused in words that name it."""
    with pytest.raises(ValueError, match=f"^{re.escape(words)}$"):
        code.assemble(lines)


def test_place_may_be_used_before_it_is_named() -> None:
    """A place further on, one further back, and the place after the very last byte are all found."""
    onward = code.assemble(["here", (code.OPERAND, code.GO, "there"), (code.OPERAND, code.GO, "here"), "there"])
    assert onward == bytes([0xF1, 4, 0xF1, 0])
    round_again = code.assemble([*[(code.OPERAND, code.GO, "end")] * 128, "end"])
    assert round_again == bytes([0xF1, 0]) * 128


def test_listing_reads_every_byte_back() -> None:
    """The listing's bytes, put together, are the program."""
    assert bytes.fromhex("".join(hexadecimal for _, hexadecimal, _ in code.listing(RAIN_TALLY))) == RAIN_TALLY


def test_page_tells_the_ticks_and_the_threshold() -> None:
    """docs/larch.md gives the ticks of the built-in week and the tips of a wet one as they are."""
    page = DOCS.read_text(encoding="utf-8")
    assert f"a wet week, in {run(WEEK)[1]} ticks" in page
    assert f"if the week had {WET_FROM} tips or more" in page


def test_example_on_the_page_runs(capsys: pytest.CaptureFixture[str]) -> None:
    """The Python example in docs/larch.md runs as it stands and tells a wet week."""
    (example,) = re.findall(r"```python\n(.*?)```", DOCS.read_text(encoding="utf-8"), re.DOTALL)
    exec(example, {})
    first, *_, last = capsys.readouterr().out.splitlines()
    assert (first, last) == ("fetch: operand -> scratch with a literal", "wet")


def test_page_lists_the_program_that_runs() -> None:
    """The rain tally in docs/larch.md is the one that Larch runs."""
    _, _, rest = DOCS.read_text(encoding="utf-8").partition("<!-- generated: rain tally -->\n")
    assert rest.partition("<!-- end -->")[0].strip("\n") == rain_tally_listing().strip("\n")
