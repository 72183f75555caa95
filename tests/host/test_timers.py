"""Timer chips: worked by hand, tolerances at every corner, and standard parts."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.errors import UsageError
from handtick.timers import (
    CHIPS,
    AstableParts,
    OneShotParts,
    Tolerances,
    choose_astable,
    choose_one_shot,
    duty_spread,
    rate_spread,
    width_spread,
)
from handtick.timers.values import E6, E24, nearest, standard, value_of, written

OHMS = st.floats(1e3, 1e6)
FARADS = st.floats(1e-9, 1e-4)
SHARES = st.floats(0, 0.5)
CHIP_NAMES = st.sampled_from(sorted(CHIPS))


def test_one_shot_by_hand() -> None:
    """1 MΩ and 0.1 uF: 1.1 × 0.1 s = 110 ms; at 5 %, 20 % and the chip's 3 %: 0.95 × 0.8 × 0.97 × 109.9 ms = 81.0 ms,
    and 1.05 × 1.2 × 1.03 × 109.9 ms = 142.6 ms."""
    spread = width_spread(OneShotParts(1e6, 0.1e-6), Tolerances(0.05, 0.20), CHIPS["bipolar"])
    assert spread.nominal == pytest.approx(0.10986, rel=1e-4)
    assert spread.least == pytest.approx(0.95 * 0.8 * 0.97 * 0.109861, rel=1e-5)
    assert spread.most == pytest.approx(1.05 * 1.2 * 1.03 * 0.109861, rel=1e-5)


def test_astable_by_hand() -> None:
    """R1 10 kΩ, R2 68 kΩ, 1 uF: high 0.693 × 78 kΩ × 1 uF = 54.07 ms, low 0.693 × 68 kΩ × 1 uF = 47.13 ms; 1.44 over
    146 kΩ × 1 uF = 9.88 Hz; 78 of 146 parts are high, 53.4 %."""
    parts = AstableParts(10e3, 68e3, 1e-6)
    assert parts.high_s == pytest.approx(54.07e-3, rel=1e-3)
    assert parts.low_s == pytest.approx(47.13e-3, rel=1e-3)
    assert parts.rate_hz == pytest.approx(9.881, rel=1e-3)
    assert parts.duty == pytest.approx(78 / 146)


def test_astable_tolerances_by_hand() -> None:
    """All parts 5 % and 20 % too large and the chip 2.25 % slow: 9.881 Hz / (1.05 × 1.2 × 1.0225) = 7.67 Hz."""
    spread = rate_spread(AstableParts(10e3, 68e3, 1e-6), Tolerances(0.05, 0.20), CHIPS["bipolar"])
    assert spread.least == pytest.approx(9.8815 / (1.05 * 1.2 * 1.0225), rel=1e-4)
    assert spread.most == pytest.approx(9.8815 / (0.95 * 0.8 * 0.9775), rel=1e-4)


@given(
    ohm=OHMS,
    farad=FARADS,
    tolerances=st.builds(Tolerances, SHARES, SHARES),
    chip=CHIP_NAMES,
    at=st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)),
)
def test_every_one_shot_within_its_tolerances_is_within_the_spread(
    ohm: float, farad: float, tolerances: Tolerances, chip: str, at: tuple[float, float, float]
) -> None:
    """Wherever within its tolerance each part is, and however far off the chip."""
    spread = width_spread(OneShotParts(ohm, farad), tolerances, CHIPS[chip])
    made = OneShotParts(ohm * (1 + at[0] * tolerances.resistor), farad * (1 + at[1] * tolerances.capacitor))
    width_s = made.width_s * (1 + at[2] * CHIPS[chip].one_shot_error[1])
    assert spread.least * (1 - 1e-9) <= width_s <= spread.most * (1 + 1e-9)


@given(
    ohms=st.tuples(OHMS, OHMS),
    farad=FARADS,
    tolerances=st.builds(Tolerances, SHARES, SHARES),
    at=st.tuples(st.floats(-1, 1), st.floats(-1, 1), st.floats(-1, 1)),
)
def test_every_astable_within_its_tolerances_is_within_the_spreads(
    ohms: tuple[float, float], farad: float, tolerances: Tolerances, at: tuple[float, float, float]
) -> None:
    """Rate and duty, wherever within its tolerance each part is."""
    parts = AstableParts(*ohms, farad)
    made = AstableParts(
        ohms[0] * (1 + at[0] * tolerances.resistor),
        ohms[1] * (1 + at[1] * tolerances.resistor),
        farad * (1 + at[2] * tolerances.capacitor),
    )
    rate, duty = rate_spread(parts, tolerances, CHIPS["cmos"]), duty_spread(parts, tolerances)
    assert rate.least <= made.rate_hz <= rate.most
    assert duty.least - 1e-9 <= made.duty <= duty.most + 1e-9
    assert made.duty > 0.5


@given(ohm=OHMS, farad=FARADS, small=SHARES, more=SHARES, chip=CHIP_NAMES)
def test_looser_parts_make_a_wider_spread(ohm: float, farad: float, small: float, more: float, chip: str) -> None:
    """A tolerance that grows never narrows what may come of it; larger parts never make a shorter pulse."""
    parts = OneShotParts(ohm, farad)
    tight = width_spread(parts, Tolerances(small, small), CHIPS[chip])
    loose = width_spread(parts, Tolerances(min(0.9, small + more), small), CHIPS[chip])
    assert loose.least <= tight.least <= tight.nominal <= tight.most <= loose.most
    assert OneShotParts(ohm * (1 + more), farad).width_s >= parts.width_s


@given(width_s=st.floats(10e-6, 30), chip=CHIP_NAMES)
def test_chosen_one_shot_is_of_standard_parts_and_near(width_s: float, chip: str) -> None:
    """E24 resistors are at most 5.5 % apart from any value, so the width is."""
    for parts in choose_one_shot(width_s, CHIPS[chip], count=1):
        assert parts.ohm in standard(E24, 1e3, 10e6)
        assert parts.farad in standard(E6, 1e-9, 100e-6)
        assert parts.width_s == pytest.approx(width_s, rel=0.055)
        assert CHIPS[chip].resistor_ohm[0] <= parts.ohm <= CHIPS[chip].resistor_ohm[1]


@given(rate_hz=st.floats(0.5, 5000), duty=st.floats(0.55, 0.9), chip=CHIP_NAMES)
def test_chosen_astable_is_of_standard_parts_and_near(rate_hz: float, duty: float, chip: str) -> None:
    """Rate and duty are as near as standard parts come."""
    parts = choose_astable(rate_hz, duty, CHIPS[chip], count=1)[0]
    assert {parts.supply_ohm, parts.other_ohm} <= set(standard(E24, 1e3, 10e6))
    assert parts.rate_hz == pytest.approx(rate_hz, rel=0.06)
    assert parts.duty == pytest.approx(duty, abs=0.03)


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("4.7k", "Ω", 4700), ("1M", "Ω", 1e6), ("330", "Ω", 330), ("10kohm", "Ω", 1e4), ("10 kΩ", "Ω", 1e4),
        ("100n", "F", 1e-7), ("0.1uF", "F", 1e-7), ("10µ", "F", 1e-5), ("22p", "F", 22e-12),
        ("110ms", "s", 0.11), ("2.5s", "s", 2.5), ("20us", "s", 2e-5),
    ],
)  # fmt: skip
def test_values_are_read_as_people_write_them(text: str, unit: str, value: float) -> None:
    """With or without the unit, in prefixes of the trade."""
    assert value_of(text, unit) == pytest.approx(value)


@pytest.mark.parametrize("text", ["", "k", "0", "-1k", "1e3", "10kF", "1.2.3", "ten", "10G"])
def test_value_that_is_none_is_refused(text: str) -> None:
    """The message shows how to write one."""
    with pytest.raises(UsageError, match=r"write it as 4\.7k or 1M"):
        value_of(text, "Ω")


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [(4700, "Ω", "4.7 kΩ"), (1e6, "Ω", "1 MΩ"), (1e-7, "F", "100 nF"), (0.110, "s", "110 ms"), (22e-12, "F", "22 pF")],
)
def test_values_are_written_with_the_prefix_that_suits(value: float, unit: str, text: str) -> None:
    """Three figures."""
    assert written(value, unit) == text


def test_nearest_standard_value_by_hand() -> None:
    """45 kΩ lies between 43 and 47, nearer to 47 by ratio: 47/45 = 1.044, 45/43 = 1.047."""
    assert nearest(E24, 45e3) == 47e3
    assert nearest(E24, 9.6) == 10


def test_duty_below_a_half_is_refused_with_why() -> None:
    """This circuit's high phase is always the longer one."""
    with pytest.raises(UsageError, match="high phase is always the longer one"):
        choose_astable(10, 0.5, CHIPS["cmos"])
    with pytest.raises(UsageError, match="no standard parts"):
        choose_one_shot(1e6, CHIPS["cmos"])


def test_each_chip_has_a_source() -> None:
    """The sheet, and what of it."""
    for chip in CHIPS.values():
        assert "data sheet" in chip.source
