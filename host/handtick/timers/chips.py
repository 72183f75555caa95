"""The timer chips: how far off they are themselves, what parts suit them, and what their outputs give."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Chip:
    """A timer chip.

    Attributes:
        name: what it is called.
        one_shot_error: initial error of a one-shot's width as a share: typical, most.
        astable_error: initial error of an astable's period, likewise; most is None where the sheet has only a typical.
        resistor_ohm: the least and the most resistance that suits it at 5 V, in ohms.
        high_v: the least and the typical level of its output when high at 5 V, in volts.
        source: where that stands.
    """

    name: str
    one_shot_error: tuple[float, float]
    astable_error: tuple[float, float | None]
    resistor_ohm: tuple[float, float]
    high_v: tuple[float, float]
    source: str


CHIPS = {
    "bipolar": Chip(
        "bipolar",
        (0.01, 0.03),
        (0.0225, None),
        (1e3, 3.4e6),
        (2.75, 3.3),
        "NE555 data sheet SLFS022: operating and electrical characteristics at 5 V, 25 °C; high level at 100 mA; "
        "note on RA + RB",
    ),
    "cmos": Chip(
        "cmos",
        (0.01, 0.03),
        (0.01, 0.03),
        (1e3, 10e6),
        (4.1, 4.8),
        "TLC555 data sheet SLFS043: operating and electrical characteristics at 5 V, 25 °C; high level at 1 mA; the "
        "most resistance is common practice, its threshold current being 10 pA",
    ),
}
