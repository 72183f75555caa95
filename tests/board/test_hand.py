"""The rate knob and the light."""

from __future__ import annotations

import time

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick_board import light, transitions
from handtick_board.hand_controls import HandControls
from handtick_board.knob import RATES_MHZ, Knob

pytestmark = pytest.mark.usefixtures("on_pins")


@given(start=st.integers(0, 65535), noise=st.lists(st.integers(-4000, 4000)))
def test_knob_that_is_not_turned_changes_nothing(start: int, noise: list[int]) -> None:
    """Wherever the knob stands at the start, and however it flickers there, it asks for no rate."""
    knob = Knob()
    assert knob.update(start) is None
    assert all(knob.update(min(max(start + each, 0), 65535)) is None for each in noise)


def test_knob_turned_from_end_to_end_gives_every_rate_once() -> None:
    """Turned slowly from one end to the other, the knob gives each of its rates once, rising."""
    knob = Knob()
    given_rates = [rate for reading in range(0, 65536, 64) if (rate := knob.update(reading)) is not None]
    assert given_rates == sorted(set(given_rates))
    assert given_rates[-1] == RATES_MHZ[-1]


@given(place=st.integers(1, len(RATES_MHZ) - 1), noise=st.lists(st.integers(-1000, 1000), max_size=50))
def test_knob_left_on_a_border_does_not_flicker(place: int, noise: list[int]) -> None:
    """A knob left just between two rates settles on one of them."""
    border = place * (65536 // len(RATES_MHZ))
    knob = Knob()
    knob.update((border + 32768) % 65536)
    knob.update(border)
    assert all(knob.update(border + each) is None for each in noise)


def test_every_mode_has_a_strip_of_its_length() -> None:
    """Each mode of the clock has a strip of sixteen eighths of a second for the light."""
    strips = [strip for strip, _ in light.STRIPS.values()] + [light.TROUBLE[0]]
    assert set(light.STRIPS) == set(transitions.MODES)
    assert all(len(strip) == 16 and set(strip) <= {"0", "1"} for strip in strips)


def test_trouble_shows_only_at_rest() -> None:
    """A refused setting shows on the light while the clock rests and does not hide what the clock does."""
    eighths = [place << 17 for place in range(16)]
    at_rest = [light.lit(at_us, transitions.REST, trouble=True) for at_us in eighths]
    moving = [light.lit(at_us, transitions.MOVING, trouble=True) for at_us in eighths]
    assert at_rest == [letter == "1" for letter in light.TROUBLE[0]]
    assert all(moving)


class _Light:
    value = False


class _Knob:
    value = 0


class _Button:
    value = False


class _Conductor:
    """Notes what it is asked."""

    mode = transitions.REST

    def __init__(self) -> None:
        self.asked: list[object] = []

    def run_or_halt(self) -> None:
        self.asked.append("run or halt")

    def reset(self) -> None:
        self.asked.append("reset")

    def change_rate(self, rate_mhz: int) -> None:
        self.asked.append(rate_mhz)


class _Board:
    def __init__(self) -> None:
        self.conductor = _Conductor()


def test_each_control_does_its_own_thing_once() -> None:
    """A press of either button is one request, a turn of the knob one rate, and the light is kept up."""
    board, run, reset, knob, lamp = _Board(), _Button(), _Button(), _Knob(), _Light()
    hand = HandControls(board, run, reset, knob, lamp, trouble=False)

    def spend(seconds: float) -> None:
        # On a busy computer time may pass without a look; what passes between two looks counts for little.
        spent, last = 0.0, time.monotonic()
        while spent < seconds:
            hand.poll(time.monotonic_ns() // 1000 & 0x3FFFFFFF)
            now = time.monotonic()
            spent, last = spent + min(now - last, 0.001), now

    spend(0.1)
    run.value = True
    spend(0.1)
    run.value = False
    spend(0.1)
    reset.value = True
    spend(0.1)
    reset.value = False
    knob.value = 65535
    spend(0.1)
    assert board.conductor.asked == ["run or halt", "reset", RATES_MHZ[-1]]
