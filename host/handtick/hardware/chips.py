"""The chips that circuits are made of, pin by pin, for the electrical check (pin numbers: the makers' data sheets)."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from handtick.hardware.circuit import BOARD_SUPPLY, GROUND, MACHINE_SUPPLY
from handtick.hardware.pico import PICO_3V3, PICO_GROUND, PICO_PINS
from handtick_board import pin_map


@dataclass(frozen=True)
class Chip:
    """One chip.

    Attributes:
        family: its logic family, as the levels calculator has it.
        supply_pin: the pin of its supply.
        gates: (input, output) of each gate.
        fixed: control and supply pins, and the nets each may be on.
        inputs, outputs: the pins that are.
        supply: the net that feeds it, where no pin of it does.
        off_tolerant: whether its inputs take a level while it has no supply.
    """

    family: str
    supply_pin: str
    gates: tuple[tuple[str, str], ...] = ()
    fixed: Mapping[str, tuple[str, ...]] = field(default_factory=dict)
    inputs: tuple[str, ...] = ()
    outputs: tuple[str, ...] = ()
    supply: str = ""
    off_tolerant: bool = False

    @property
    def needed(self) -> set[str]:
        """The pins that must be on a net."""
        return {*self.fixed, *self.inputs}

    @property
    def known(self) -> set[str]:
        """The pins that may be."""
        return {*self.needed, *self.outputs}


def _quad(family: str, supplies: tuple[str, ...]) -> Chip:
    gates = (("2", "3"), ("5", "6"), ("9", "8"), ("12", "11"))
    enables = dict.fromkeys(("1", "4", "10", "13"), (GROUND,))
    return Chip(
        family,
        "14",
        gates,
        {**enables, "7": (GROUND,), "14": supplies},
        tuple(into for into, _ in gates),
        tuple(out for _, out in gates),
    )


def _octal() -> Chip:
    gates = tuple(zip(map(str, range(2, 10)), map(str, range(18, 10, -1)), strict=True))
    fixed = {"1": (BOARD_SUPPLY,), "10": (GROUND,), "19": (GROUND,), "20": (BOARD_SUPPLY,)}
    into = tuple(pin for pin, _ in gates)
    return Chip("74LVC", "20", gates, fixed, into, tuple(pin for _, pin in gates), off_tolerant=True)


CHIPS: dict[str, Chip] = {
    "74HCT125": _quad("74HCT", (MACHINE_SUPPLY,)),
    "74HC125": _quad("74HC", (MACHINE_SUPPLY,)),
    "74AHCT125": _quad("74AHCT", (MACHINE_SUPPLY,)),
    "74LVC125A": _quad("74LVC", (MACHINE_SUPPLY,)),
    "74LVC245A": _octal(),
}


def pico(profile: str) -> Chip:
    """A Raspberry Pi Pico with a pin profile."""
    roles, probes, _ = pin_map.PROFILES[profile]
    pins = {PICO_PINS[pin]: (pin,) for pin in [*probes, *roles.values()] if pin in PICO_PINS}
    outputs = [PICO_PINS[pin] for role, pin in roles.items() if pin in PICO_PINS and pin_map.ROLES[role][0] == "out"]
    inputs = [PICO_PINS[pin] for pin in probes]
    inputs += [PICO_PINS[pin] for role, pin in roles.items() if pin in PICO_PINS and pin_map.ROLES[role][0] != "out"]
    fixed = {**pins, PICO_GROUND: (GROUND,), PICO_3V3: (BOARD_SUPPLY,)}
    return Chip("rp2040", PICO_3V3, (), fixed, tuple(inputs), tuple(outputs), supply=BOARD_SUPPLY)
