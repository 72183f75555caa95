"""A circuit: parts, each with its pins and the nets they are on."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, field

GROUND = "GND"
#: The board's own 3.3 V, which feeds what stands on the board's side.
BOARD_SUPPLY = "3V3"
#: The machine's supply, which feeds what drives the machine.
MACHINE_SUPPLY = "VM"


@dataclass(frozen=True)
class Part:
    """One part.

    Attributes:
        ref: its name in the drawing, such as ``R3``.
        kind: what it is in words; decides the symbol.
        value: such as ``47 Ω`` or ``74HCT125``.
        package: how it comes.
        pins: pin to net; the pins of a part with two that are alike are ``1`` and ``2``.
        why: what it is there for.
        instead: what may stand in its place.
    """

    ref: str
    kind: str
    value: str
    package: str
    pins: dict[str, str]
    why: str
    instead: str = "nothing"


@dataclass(frozen=True)
class Path:
    """A line on its way from one net to another, as one row of the drawing.

    Attributes:
        kind: ``out`` (through a gate to the machine), ``button``, ``knob``, ``sense``, ``tie``, ``series`` or ``lamp``.
        role: what it is, as the pin map calls it.
        parts: the parts in order; for ``out``: series resistor, pull, gate and pins, resistor at the driver.
    """

    kind: str
    role: str
    parts: tuple[str, ...]
    gate: str = ""


@dataclass
class Circuit:
    """All of one variant.

    Attributes:
        name: the variant.
        title: what it is for.
        profile: the pin profile it is wired for; empty where there is no Pico in it.
        parts: the parts by ref.
        paths: the rows of the drawing.
        notes: what else a builder must know.
        ways: which pin of the Pico each of the machine's lines must lead to.
        tugs: which pin of the Pico each line leads to that pulls others through resistors.
        rests: the rail that keeps each line of the Pico at rest while it drives nothing.
        ends: lines that need a resistor at their driver.
        halves: pins at half the machine's supply.
        tied: lines that must not float while they are not wired, and the rail they go to; empty for either.
        apart: lines of which each has a gate of its own and bears a short.
    """

    name: str
    title: str
    profile: str = ""
    parts: dict[str, Part] = field(default_factory=dict)
    paths: list[Path] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    ways: dict[str, str] = field(default_factory=dict)
    tugs: dict[str, str] = field(default_factory=dict)
    rests: dict[str, str] = field(default_factory=dict)
    ends: list[str] = field(default_factory=list)
    halves: list[str] = field(default_factory=list)
    tied: dict[str, str] = field(default_factory=dict)
    apart: list[str] = field(default_factory=list)

    def add(
        self, letter: str, kind: str, value: str, package: str, pins: dict[str, str], why: str, instead: str
    ) -> str:
        """Adds a part under the next free number of its letter, and returns its ref."""
        number = 1 + sum(part.ref.rstrip("0123456789") == letter for part in self.parts.values())
        ref = f"{letter}{number}"
        self.parts[ref] = Part(ref, kind, value, package, pins, why, instead)
        return ref

    def nets(self) -> dict[str, list[tuple[str, str]]]:
        """Every net with the (ref, pin) pairs on it."""
        nets: dict[str, list[tuple[str, str]]] = {}
        for part in self.parts.values():
            for pin, net in part.pins.items():
                nets.setdefault(net, []).append((part.ref, pin))
        return nets

    def of_kind(self, kind: str) -> Iterator[Part]:
        """The parts of a kind."""
        return (part for part in self.parts.values() if part.kind == kind)
