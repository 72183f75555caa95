"""Calls: what people said before the tick, beside what it held."""

from __future__ import annotations

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.classroom.calls import MOST_VALUES, Calls, read_value
from handtick.errors import UsageError
from handtick.wiring import Bus

DATA = Bus("data", tuple(range(8)))
COUNT = Bus("count", (8, 9, 10, 11), show="decimal")
FLAGS = Bus("flags", (12, 13, 14), show="binary")
FETCH = Bus("fetch", (15,))
GIVER = Bus("giver", (8, 9, 10), show="names", names={0: "nobody", 5: "operand"})


@pytest.mark.parametrize(
    ("bus", "typed", "value"),
    [
        (DATA, "2A", 0x2A),
        (DATA, " 2a ", 0x2A),
        (DATA, "0x2A", 0x2A),
        (DATA, "0B", 0x0B),
        (COUNT, "0b1010", 10),
        (DATA, "10", 0x10),
        (COUNT, "10", 10),
        (COUNT, "0xA", 10),
        (FLAGS, "101", 5),
        (FETCH, "1", 1),
        (GIVER, "operand", 5),
        (GIVER, "OPERAND", 5),
        (GIVER, "3", 3),
    ],
)
def test_a_value_is_typed_as_it_is_shown(bus: Bus, typed: str, value: int) -> None:
    """Or with its base in front, or by name."""
    assert read_value(bus, typed) == value


@pytest.mark.parametrize(
    ("bus", "typed"),
    [
        *((DATA, typed) for typed in ("100", "-1", "", "2G", "+2", "٤", "0x", "0b101010", "1" * 100)),
        *((COUNT, typed) for typed in ("16", "A", "0b")),
        (FLAGS, "2"),
        (FETCH, "2"),
        (GIVER, "nobody else"),
    ],
)
def test_what_is_no_value_is_refused_by_name(bus: Bus, typed: str) -> None:
    """And says how far the bus goes."""
    with pytest.raises(UsageError, match=f"no value of {bus.name}: it goes from 0 to"):
        read_value(bus, typed)


@pytest.mark.parametrize("bus", [DATA, COUNT, FLAGS, FETCH, GIVER], ids=lambda bus: bus.name)
def test_what_a_page_shows_can_be_typed_back(bus: Bus) -> None:
    """Every value of the bus."""
    assert [read_value(bus, bus.text(value)) for value in range(1 << bus.width)] == list(range(1 << bus.width))


def test_the_tick_is_the_answer() -> None:
    """How many called what, beside the value; a second call replaces the first."""
    calls = Calls()
    for person, value in ((1, 0x2A), (2, 0x2A), (3, 0x10), (1, 0x2B)):
        calls.say(person, DATA, value, (0, 7))
    assert calls.made() == 3
    assert calls.of(1) == {"data": 0x2B}
    calls.answer(0, 7, [DATA, COUNT], 0x2B, {1: "Mira", 2: "Jon", 3: "Ada"})
    (answer,) = calls.answers
    assert (answer.tick, answer.bus, answer.value, answer.right) == (7, "data", "2B", 1)
    assert sorted(answer.tally) == [("10", 1), ("2A", 1), ("2B", 1)]
    assert calls.made() == 0


def test_calls_for_a_tick_nobody_heard_of_have_no_answer() -> None:
    """They were for tick 7; tick 9 is not it."""
    calls = Calls()
    calls.say(1, DATA, 1, (0, 7))
    calls.answer(0, 9, [DATA], 1, {})
    assert calls.answers == []
    assert calls.made() == 0


def test_a_call_for_the_next_tick_takes_the_place_of_those_before() -> None:
    """A call made for tick 7 does not count for tick 8."""
    calls = Calls()
    calls.say(1, DATA, 1, (0, 7))
    calls.say(2, DATA, 2, (0, 8))
    calls.answer(0, 8, [DATA], 2, {})
    assert calls.answers[0].tally == (("02", 1),)


@given(st.dictionaries(st.integers(1, 300), st.integers(0, 255), min_size=1), st.integers(0, 255))
def test_every_call_is_in_the_tally_once(said: dict[int, int], held: int) -> None:
    """However many different values there are."""
    calls = Calls()
    for person, value in said.items():
        calls.say(person, DATA, value, (0, 1))
    calls.answer(0, 1, [DATA], held, {})
    (answer,) = calls.answers
    assert sum(count for _, count in answer.tally) == len(said)
    assert answer.right == list(said.values()).count(held)
    assert len(answer.tally) <= MOST_VALUES + 1


def test_the_calls_can_be_kept_as_a_table_that_no_spreadsheet_runs() -> None:
    """Names that begin as formulas do are quoted; commas and quotes stay in their cell."""
    calls = Calls()
    for person in (1, 2):
        calls.say(person, DATA, person, (2, 7))
    calls.answer(2, 7, [DATA], 2, {1: "=1+1", 2: 'Ann, "the one"'})
    rows = list(csv.reader(io.StringIO(calls.table())))
    assert rows == [
        ["reset", "tick", "bus", "who", "called", "held"],
        ["2", "7", "data", "'=1+1", "1", "2"],
        ["2", "7", "data", 'Ann, "the one"', "2", "2"],
    ]
