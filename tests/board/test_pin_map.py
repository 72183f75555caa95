"""Which pin does what."""

from __future__ import annotations

import pytest

from handtick_board import pin_map
from handtick_board.pin_map import PROFILES, complaints, own_profile

PICO_PINS = {f"GP{number}" for number in range(29)} | {"LED"}


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_shipped_profile_fits_a_pico(name: str) -> None:
    """Every profile puts each use on a pin of its own that a Pico has and that can do it."""
    roles, probes, _ = PROFILES[name]
    assert complaints(roles, probes, PICO_PINS, has_gp_pins=True) == []


@pytest.mark.parametrize("name", sorted(PROFILES))
def test_shipped_profile_says_what_it_leaves_out(name: str) -> None:
    """A profile that lacks a role names something it leaves out, and uses no role that is not explained."""
    roles, _, left_out = PROFILES[name]
    assert set(roles) <= set(pin_map.ROLES)
    assert bool(set(pin_map.ROLES) - set(roles)) == bool(left_out)


@pytest.mark.parametrize(
    ("roles", "probes", "expected"),
    [
        ({"reset": "GP1"}, (), "no pin is given for the clock"),
        ({"clock": "GP99"}, (), "clock is on GP99, a pin this board does not have"),
        ({"clock": "GP1", "reset": "GP1"}, (), "clock and reset are both on GP1"),
        ({"clock": "GP1"}, ("GP2", "GP1"), "probe 1 and clock are both on GP1"),
        ({"clock": "GP1", "knob": "GP2"}, (), "knob can't be on GP2: it is no analogue pin"),
        ({"clock": "GP1", "edge_counter": "GP2"}, (), "edge_counter can't be on GP2: only pins with odd numbers count"),
        ({"clock": "GP20"}, tuple(f"GP{n}" for n in range(17)), "17 probes are given; 16 is the most"),
    ],
)
def test_wrong_map_is_refused_in_words(roles: dict[str, str], probes: tuple[str, ...], expected: str) -> None:
    """Each fault of a pin map is named with its pin."""
    assert expected in complaints(roles, probes, PICO_PINS, has_gp_pins=True)


def test_own_profile_takes_any_names_the_board_has() -> None:
    """On another board, pins are given by the names that board gives them."""
    given = {"HANDTICK_PIN_CLOCK": "D5", "HANDTICK_PIN_TICK_BUTTON": "D6", "HANDTICK_PIN_PROBES": "A1 A2"}
    roles, probes = own_profile(given.get)
    assert roles == {"clock": "D5", "tick_button": "D6"}
    assert probes == ("A1", "A2")
    assert complaints(roles, probes, {"D5", "D6", "A1", "A2"}, has_gp_pins=False) == []
