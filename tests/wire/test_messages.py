"""What is said on the wire reads back as it was meant, and nothing else reads as anything."""

from __future__ import annotations

import re

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.wire_page import COMMAND_MEANINGS, REPORT_MEANINGS, reason_words
from handtick.wire_reports import read_report
from handtick_board import board, clock_limits, conductor, desk, outbox, ready_steps, soft_clock, tick_button
from handtick_wire import messages
from handtick_wire.described import SENTENCES, sentence

words = st.text(st.characters(min_codepoint=33, max_codepoint=126, exclude_characters="#@="), min_size=1, max_size=20)
numbers = st.integers(0, 2**64 - 1)
FORMS = {messages.NUMBER: numbers, messages.HEX: numbers, messages.WORD: words, messages.RATE: st.just("2.5")}


@pytest.mark.parametrize("kind", sorted(set(messages.REPORTS) - {"tick"}))
@given(data=st.data())
def test_reports_read_back(kind: str, data: st.DataObject) -> None:
    """Every report reads back with every field as it was said."""
    fields = {name: data.draw(FORMS[form], name) for name, form in messages.REPORTS[kind]}
    assert read_report(messages.say(kind, **fields)) == (kind, tuple(fields.values()))


@given(reset=numbers, tick=numbers, early=st.integers(0, 0xFFFF), late=st.integers(0, 0xFFFF), time_us=numbers)
def test_tick_records_read_back(reset: int, tick: int, early: int, late: int, time_us: int) -> None:
    """A tick record, the one report without names, reads back."""
    text = b"tick %d %d %X %X %d %X" % (reset, tick, early, late, time_us, 3)
    read = read_report(text)
    assert read == ("tick", (reset, tick, early, late, time_us, 3))


@given(text=st.binary(max_size=80))
def test_any_bytes_are_a_report_or_none(text: bytes) -> None:
    """Bytes that no board sent are no report, and are no trouble either."""
    read = read_report(text)
    assert read is None or read[0] in messages.REPORTS


@pytest.mark.parametrize(
    "text", [b"tick 1 2 3 4 5", b"tick 1 -2 3 4 5 0", b"tick 1 2 g 4 5 0", b"done id=1", b"done", b"", b"tack 1"]
)
def test_reports_with_something_missing_or_wrong_are_none(text: bytes) -> None:
    """A report lacking a field, or with one that is not of its form, is none."""
    assert read_report(text) is None


def test_fields_of_a_newer_board_are_passed_over() -> None:
    """Fields behind those that this version knows are left out, and the rest is read."""
    assert read_report(b"done id=1 tick=2 edges=3 mood=good") == ("done", (1, 2, 3))
    assert read_report(b"tick 1 2 3 4 5 0 good") == ("tick", (1, 2, 3, 4, 5, 0))


@pytest.mark.parametrize("word", ["", "-1", "+1", "1.5", " 1", "1 ", "abc", "0x10", "1e3", "1_000", "²", str(2**64)])
def test_what_is_no_number_is_refused(word: str) -> None:
    """Only plain decimal digits below 2^64 are a number."""
    assert messages.read_number(word) is None


@given(value=numbers)
def test_numbers_read_back(value: int) -> None:
    """Every number below 2^64 reads back."""
    assert messages.read_number(str(value)) == value


@pytest.mark.parametrize(
    ("word", "millihertz"),
    [("2", 2000), ("0.5", 500), ("0.01", 10), ("1500.25", 1_500_250), ("100000000", 10**11), ("007", 7000)],
)
def test_rates_are_read_in_thousandths_of_a_hertz(word: str, millihertz: int) -> None:
    """A rate is a decimal with at most three places."""
    assert messages.read_rate(word) == millihertz


@pytest.mark.parametrize(
    "word", ["", "0", "0.009", "100000001", "1.", ".5", "1.2345", "-1", "1e3", "2Hz", "1,5", "1.5.0"]
)
def test_what_is_no_rate_is_refused(word: str) -> None:
    """A rate out of range, or written any other way, is refused."""
    assert messages.read_rate(word) is None


@given(millihertz=st.integers(10, 10**11))
def test_rates_read_back(millihertz: int) -> None:
    """Every rate in range reads back to the last thousandth."""
    assert messages.read_rate(messages.write_rate(millihertz)) == millihertz


def test_every_reason_has_a_sentence() -> None:
    """Every word the board gives as a reason is told to people as a sentence; an unknown word is told as it is."""
    assert set(SENTENCES) == set(reason_words())
    assert all(text and text[0].islower() and not text.endswith(".") for text in SENTENCES.values())
    assert sentence("word-of-a-newer-board") == "word-of-a-newer-board"


def test_reference_has_a_meaning_for_every_message() -> None:
    """Every command and report has its line in the reference."""
    assert set(COMMAND_MEANINGS) == set(messages.COMMANDS)
    assert set(REPORT_MEANINGS) == set(messages.REPORTS)


def test_every_reason_is_used_by_the_board() -> None:
    """No reason is only a word in a list."""
    text = ""
    for module in (board, clock_limits, conductor, desk, outbox, ready_steps, soft_clock, tick_button):
        assert module.__file__ is not None
        with open(module.__file__, encoding="utf-8") as file:  # noqa: PTH123
            text += file.read()
    from handtick_wire import reasons

    unused = [name for name in vars(reasons) if name.isupper() and not re.search(rf"reasons\.{name}\b", text)]
    assert unused == []


def test_reports_that_are_said_most_are_as_the_table_has_them() -> None:
    """The board writes ticks and blocks by forms of its own, for speed: fields, order and digits are the table's."""
    block = (1, 12, 2048, 3_000_000, 10_000_000, 0x4, 0xDEADBEEF)
    names = [name for name, _ in messages.REPORTS["block"]]
    assert messages.say("block", **dict(zip(names, block, strict=True))) == outbox._BLOCK % block
    places = [{messages.HEX: "%X", messages.NUMBER: "%d"}[form] for _, form in messages.REPORTS["tick"]]
    assert " ".join(["%04X tick", *places]).encode() == outbox._TICK
