"""Levels: worked by hand, and moving the right way with every input."""

from __future__ import annotations

import dataclasses

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.errors import UsageError
from handtick.levels import FAMILIES, fit
from handtick.levels.fit import GUARANTEED, HARMS, NO, TYPICAL

NAMES = sorted(FAMILIES)


def test_pico_into_hc_at_five_volts_is_typical_only() -> None:
    """3.3 less 0.68 is 2.62 V; 0.7 of 5 V is 3.5 V: 0.88 V short by the sheets. Typically 3.25 V meet 2.5 V."""
    found = fit("rp2040", 3.3, "74HC", 5.0)
    assert found.verdict == TYPICAL
    assert found.high_margin_v == pytest.approx(2.62 - 3.5)
    assert found.low_margin_v == pytest.approx(1.5 - 0.5)
    assert found.typical_margin_v == pytest.approx(3.25 - 2.5)
    assert "74HCT" in found.advice


def test_pico_into_hct_at_five_volts_is_guaranteed() -> None:
    """2.62 V meet 2.0 V, and 0.5 V are under 0.8 V."""
    found = fit("rp2040", 3.3, "74HCT", 5.0)
    assert (found.verdict, found.advice) == (GUARANTEED, "")
    assert (found.high_margin_v, found.low_margin_v) == (pytest.approx(0.62), pytest.approx(0.3))


def test_five_volts_harm_a_pin_of_the_pico_and_not_a_buffer() -> None:
    """The Pico's pin bears 3.63 V; the input of a 74LVC bears 5.5 V whatever its supply."""
    assert fit("74HC", 5.0, "rp2040", 3.3).verdict == HARMS
    assert fit("74HC", 5.0, "74LVC", 3.3).verdict == GUARANTEED


def test_hc_drives_ten_inputs_of_ls() -> None:
    """A zero of 74LS pulls 0.4 mA from each input, and 74HC takes 4 mA: ten, and not eleven."""
    assert fit("74HC", 5.0, "74LS", 5.0, 10).verdict == GUARANTEED
    assert (fit("74HC", 5.0, "74LS", 5.0, 11).verdict, fit("74HC", 5.0, "74LS", 5.0).inputs) == (NO, 10)


@pytest.mark.parametrize("name", NAMES)
def test_every_family_has_a_sheet_and_figures_that_can_be(name: str) -> None:
    """Each row names its source; a one is above a zero at inputs and outputs, over the whole range of supplies."""
    family = FAMILIES[name]
    assert len(family.source) > 20
    for supply_v in family.supply_v:
        assert family.needs_low_v(supply_v) < family.changes_at_v(supply_v) < family.needs_high_v(supply_v)
        assert family.output_low_v < family.gives_high_v(supply_v) <= supply_v
    assert all(getattr(family, field.name) is not None for field in dataclasses.fields(family))


@given(data=st.data(), driver=st.sampled_from(NAMES), receiver=st.sampled_from(NAMES), inputs=st.integers(1, 50))
def test_margins_move_the_right_way(data: st.DataObject, driver: str, receiver: str, inputs: int) -> None:
    """A higher supply of the driver never makes its ones worse; a higher one of the receiver never makes it easier to
    reach; more inputs are never easier to drive."""
    driver_v = data.draw(st.floats(*FAMILIES[driver].supply_v))
    receiver_v = data.draw(st.floats(*FAMILIES[receiver].supply_v))
    found = fit(driver, driver_v, receiver, receiver_v, inputs)
    higher = data.draw(st.floats(driver_v, FAMILIES[driver].supply_v[1]))
    assert fit(driver, higher, receiver, receiver_v, inputs).high_margin_v >= found.high_margin_v
    harder = data.draw(st.floats(receiver_v, FAMILIES[receiver].supply_v[1]))
    assert fit(driver, driver_v, receiver, harder, inputs).high_margin_v <= found.high_margin_v
    order = [NO, TYPICAL, GUARANTEED]
    more = fit(driver, driver_v, receiver, receiver_v, inputs + 1)
    assert HARMS in (found.verdict, more.verdict) or order.index(more.verdict) <= order.index(found.verdict)
    assert (found.verdict == GUARANTEED) <= (min(found.high_margin_v, found.low_margin_v) >= 0)


@pytest.mark.parametrize(("name", "supply_v"), [("74XY", 5.0), ("74LS", 3.3), ("rp2040", 5.0)])
def test_what_can_not_be_is_refused(name: str, supply_v: float) -> None:
    """A family that is none, and a supply that the family is not made for."""
    with pytest.raises(UsageError):
        fit(name, supply_v, "74HC", 5.0)
