"""The electrical check finds every single fault of a circuit, and nothing in those that are shipped."""

from __future__ import annotations

import copy
import itertools
from collections.abc import Iterator
from dataclasses import replace

import pytest

from handtick.hardware.chips import CHIPS
from handtick.hardware.circuit import BOARD_SUPPLY, GROUND, MACHINE_SUPPLY, Circuit
from handtick.hardware.electrics import check
from handtick.hardware.fan_out import fan_out
from handtick.hardware.variants import variants

VARIANTS = variants() | {"fan-out": fan_out()}
MACHINE_V = {"minimal": 3.3, "3v3": 3.3, "5v": 5.0, "5v-tug": 5.0, "fan-out": 5.0}
# A driver of 74HC takes no 3.3 V levels; behind another chip at 5 V it would do.
_OTHER = {"74HCT125": ("74HC125", "74LVC125A"), "74LVC125A": ("74HCT125",), "74LVC245A": ("74HCT125",)}
_TO = {GROUND: BOARD_SUPPLY, BOARD_SUPPLY: GROUND, MACHINE_SUPPLY: GROUND}


@pytest.mark.parametrize("name", VARIANTS)
def test_shipped_circuits_have_nothing_wrong(name: str) -> None:
    """The check says nothing of a circuit that a user is told to build."""
    assert check(VARIANTS[name], MACHINE_V[name]) == []


def faults(circuit: Circuit) -> Iterator[tuple[str, Circuit]]:
    """Every single fault: a part left out, a driver doubled or of another kind, a resistor bridged, a pin elsewhere."""
    for ref, part in circuit.parts.items():
        if (
            part.kind in ("driver", "input buffer", "resistor", "resistor network", "capacitor")
            and part.value != "10 µF"
        ):
            yield f"{ref} {part.value} left out", without(circuit, ref)
        if part.kind == "resistor" and not {GROUND, BOARD_SUPPLY, MACHINE_SUPPLY} & set(part.pins.values()):
            yield f"{ref} {part.value} bridged", changed(circuit, ref, value="0 Ω")
        if part.kind == "resistor":
            for pin, net in part.pins.items():
                if net in _TO:
                    yield f"{ref} to {_TO[net]}", changed(circuit, ref, pins={**part.pins, pin: _TO[net]})
        for value in _OTHER.get(part.value, ()):
            if circuit.ways or value != "74HC125":
                yield f"{ref} a {value}", changed(circuit, ref, value=value)
        chip = CHIPS.get(part.value)
        if chip is not None:
            supply = part.pins[chip.supply_pin]
            other = BOARD_SUPPLY if supply == MACHINE_SUPPLY else MACHINE_SUPPLY
            yield f"{ref} fed by {other}", changed(circuit, ref, pins={**part.pins, chip.supply_pin: other})
            for pin in chip.outputs:
                if pin in part.pins:
                    for second in chip.outputs:
                        if second != pin and second in part.pins:
                            joined = {**part.pins, second: part.pins[pin]}
                            yield f"{ref} pin {second} on the net of pin {pin}", changed(circuit, ref, pins=joined)
        if part.kind in ("driver", "input buffer", "board"):
            yield from moved(circuit, ref)


def moved(circuit: Circuit, ref: str) -> Iterator[tuple[str, Circuit]]:
    """Each pin of a chip lifted, and each two neighbours changed over."""
    pins = circuit.parts[ref].pins
    places = sorted(pins, key=int)
    for pin in places:
        rest = {each: net for each, net in pins.items() if each != pin}
        yield f"{ref} pin {pin} lifted", changed(circuit, ref, pins=rest)
    for one, other in itertools.pairwise(places):
        if pins[one] != pins[other]:
            swapped = {**pins, one: pins[other], other: pins[one]}
            yield f"{ref} pins {one} and {other} changed over", changed(circuit, ref, pins=swapped)


def without(circuit: Circuit, ref: str) -> Circuit:
    """The circuit with a part left out."""
    worse = copy.deepcopy(circuit)
    del worse.parts[ref]
    return worse


def changed(circuit: Circuit, ref: str, **changes: object) -> Circuit:
    """The circuit with something of a part changed."""
    worse = copy.deepcopy(circuit)
    worse.parts[ref] = replace(worse.parts[ref], **changes)  # type: ignore[arg-type]
    return worse


@pytest.mark.parametrize("name", VARIANTS)
def test_every_single_fault_is_found(name: str) -> None:
    """Whatever one thing is wrong, the check says something."""
    tried = 0
    missed = []
    for what, circuit in faults(VARIANTS[name]):
        tried += 1
        if not check(circuit, MACHINE_V[name]):
            missed.append(what)
    assert missed == []
    assert tried >= {"minimal": 8}.get(name, 40)


def test_findings_name_what_is_wrong() -> None:
    """A finding names part, pin and net, so that a builder can go and look."""
    circuit = VARIANTS["5v"]
    (pull,) = [path.parts[1] for path in circuit.paths if path.role == "clock"]
    assert check(without(circuit, pull), 5.0) == ["GP16 is pulled to nothing while the Pico is in reset, not to GND"]
    driver = next(circuit.of_kind("driver")).ref
    found = check(changed(circuit, driver, value="74HC125"), 5.0)
    assert any("U1 pin 21 at 3.3 V is not guaranteed to drive it (U2 pin 2 at 5 V" in each for each in found)


def test_machine_of_another_family_is_judged_by_its_own_levels() -> None:
    """A 5 V machine of 74LS drives the input buffers, and takes what the driver gives."""
    assert check(VARIANTS["5v"], 5.0, "74LS") == []
    assert check(VARIANTS["3v3"], 5.0)
