"""Logic families: what a data sheet guarantees of inputs and outputs, each with its sheet (``families.toml``)."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any


@dataclass(frozen=True, slots=True)
class Family:
    """One family.

    Attributes:
        name: what it is called.
        source: the data sheet the figures are from.
        supply_v: the least and the most supply it is made for, in volts.
        input_ma: current of an input at a one and at a zero, in milliamperes.
        input_pf: capacitance of an input, typically, in picofarads.
        output_low_v: the most level of a zero at its current in ``drive_ma``.
        drive_ma: currents of an output at a one and at a zero at which its levels hold, in milliamperes.
        high_share, high_v: the least level that an input takes for a one, as a share of the supply or in volts.
        low_share, low_v: the most level that it takes for a zero, likewise.
        middle_share, middle_v: where an input typically changes over, likewise.
        bears_v: the most an input bears whatever the supply; 0 where that is the supply and half a volt.
        drop_v: how far below the supply a one is at most; where ``output_high_v`` is set, that is the level instead.
        output_high_v: the least level of a one that does not follow the supply.
        typical_drop_v: how far below the supply a one typically is.
    """

    name: str
    source: str
    supply_v: tuple[float, float]
    input_ma: tuple[float, float]
    input_pf: float
    output_low_v: float
    drive_ma: tuple[float, float]
    high_share: float = 0.0
    high_v: float = 0.0
    low_share: float = 0.0
    low_v: float = 0.0
    middle_share: float = 0.0
    middle_v: float = 0.0
    bears_v: float = 0.0
    drop_v: float = 0.0
    output_high_v: float = 0.0
    typical_drop_v: float = 0.05

    def needs_high_v(self, supply_v: float) -> float:
        """The least level that an input takes for a one."""
        return self.high_share * supply_v or self.high_v

    def needs_low_v(self, supply_v: float) -> float:
        """The most level that an input takes for a zero."""
        return self.low_share * supply_v or self.low_v

    def changes_at_v(self, supply_v: float) -> float:
        """Where an input typically changes over."""
        return self.middle_share * supply_v or self.middle_v

    def gives_high_v(self, supply_v: float) -> float:
        """The least level of an output at a one."""
        return self.output_high_v or supply_v - self.drop_v

    def bears_at_v(self, supply_v: float) -> float:
        """The most an input bears."""
        return self.bears_v or supply_v + 0.5


def _read() -> dict[str, Family]:
    text = Path(__file__).with_name("families.toml").read_text(encoding="utf-8")
    families = {}
    for name, row in tomllib.loads(text).items():
        pairs: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in row.items()}
        families[name] = Family(name, **pairs)
    return families


#: Every family by its name.
FAMILIES: dict[str, Family] = _read()
