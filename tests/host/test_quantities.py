"""What people type for ticks, rates and times."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.errors import UsageError
from handtick.quantities import extent_of, rate_of, span_of, tick_of
from handtick_wire import messages

GOOD_RATES = {
    "2": "2",
    "2Hz": "2",
    "2hz": "2",
    "0.5": "0.5",
    "1.5kHz": "1500",
    "1MHz": "1000000",
    "0.01": "0.01",
    "100MHz": "100000000",
    " 20Hz ": "20",
    "0.0005kHz": "0.5",
}
BAD_RATES = [
    "",
    "0",
    "-1",
    "1e3",
    "nan",
    "inf",
    "2 Hz",
    "0.009",
    "101MHz",
    "1.0001",
    ".5",
    "5.",
    "1GHz",
    "２",
    "1,5",
    "x" * 90,
]
BAD_TICKS = ["", "-1", "1.5", "abc", str(1 << 64), "1e3", "+1", "0x10", "１", "9" * 400]


@pytest.mark.parametrize(("typed", "wire"), GOOD_RATES.items())
def test_rates_read_as_people_write_them(typed: str, wire: str) -> None:
    """Hertz are understood, with or without a unit, and nothing is rounded."""
    assert rate_of(typed) == wire


@pytest.mark.parametrize("typed", BAD_RATES)
def test_other_rates_are_refused_in_one_short_line(typed: str) -> None:
    """What is no rate, or none that can be, is refused with what was typed."""
    with pytest.raises(UsageError) as caught:
        rate_of(typed)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 120


@given(st.integers(messages.LEAST_MILLIHERTZ, messages.MOST_MILLIHERTZ))
def test_every_rate_on_the_wire_reads_back(millihertz: int) -> None:
    """A rate written for the wire is the rate that is read."""
    assert messages.read_rate(rate_of(messages.write_rate(millihertz))) == millihertz


@pytest.mark.parametrize("typed", BAD_TICKS)
def test_only_whole_numbers_below_2_64_are_ticks(typed: str) -> None:
    """Anything else is refused."""
    with pytest.raises(UsageError, match=r"ticks are whole numbers from 0 to 2\^64 - 1"):
        tick_of(typed)


@given(st.integers(0, (1 << 64) - 1))
def test_every_tick_number_can_be_typed(tick: int) -> None:
    """From zero to the last one."""
    assert tick_of(str(tick)) == tick


def test_length_of_a_run_is_ticks_or_a_time() -> None:
    """The unit tells which."""
    assert extent_of("40") == 40
    assert isinstance(extent_of("40"), int)
    assert extent_of("10s") == 10.0
    assert extent_of("500ms") == 0.5
    assert extent_of("2min") == 120.0
    assert isinstance(extent_of("10s"), float)


@pytest.mark.parametrize("typed", ["0", "0s", "-1s", "10 s", "ten", "1h", "", "1e3s"])
def test_other_lengths_are_refused(typed: str) -> None:
    """Nothing, and what is neither ticks nor a time, is refused."""
    with pytest.raises(UsageError, match="--for"):
        extent_of(typed)


def test_spans_of_ticks() -> None:
    """From a first to a last, or one."""
    assert span_of("400..412") == (400, 412)
    assert span_of("7") == (7, 7)


@pytest.mark.parametrize("typed", ["9..3", "..", "1..", "a..b", "1...3"])
@pytest.mark.parametrize("read", [span_of])
def test_other_spans_are_refused(read: Callable[[str], object], typed: str) -> None:
    """A span that runs backwards or is none."""
    with pytest.raises(UsageError):
        read(typed)
