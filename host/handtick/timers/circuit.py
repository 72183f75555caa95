"""A timer chip's one-shot and astable: from parts to times, with what tolerances do, and from times to parts."""

from __future__ import annotations

import itertools
import math
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TypeVar

from handtick.errors import UsageError
from handtick.timers.chips import Chip
from handtick.timers.values import E6, E24, nearest, standard

# A capacitor charges from 0 to two thirds of the supply in ln 3 time constants (a one-shot), and between one third and
# two thirds in ln 2 (an astable).
_ONE_SHOT = math.log(3)
_ASTABLE = math.log(2)
_CAPACITORS_F = (1e-9, 100e-6)
# A resistor that is neither so small that it heats nor so large that a breadboard's leakage counts.
_SUITS_OHM = 100e3

Parts = TypeVar("Parts")


@dataclass(frozen=True, slots=True)
class Tolerances:
    """How far parts may be off, as shares from 0 to less than 1: resistors and the capacitor."""

    resistor: float = 0.05
    capacitor: float = 0.20


@dataclass(frozen=True, slots=True)
class Spread:
    """A figure of a circuit: as its parts are marked, and the least and the most with parts and chip at their worst."""

    nominal: float
    least: float
    most: float


@dataclass(frozen=True, slots=True)
class OneShotParts:
    """A one-shot's parts: ohms and farads."""

    ohm: float
    farad: float

    @property
    def width_s(self) -> float:
        """ln 3 · R · C, in seconds."""
        return _ONE_SHOT * self.ohm * self.farad


@dataclass(frozen=True, slots=True)
class AstableParts:
    """An astable's parts: the resistor to the supply, the one to the capacitor, and that; ohms and farads."""

    supply_ohm: float
    other_ohm: float
    farad: float

    @property
    def high_s(self) -> float:
        """ln 2 · (R1 + R2) · C, in seconds."""
        return _ASTABLE * (self.supply_ohm + self.other_ohm) * self.farad

    @property
    def low_s(self) -> float:
        """ln 2 · R2 · C, in seconds."""
        return _ASTABLE * self.other_ohm * self.farad

    @property
    def rate_hz(self) -> float:
        """Ticks a second."""
        return 1 / (self.high_s + self.low_s)

    @property
    def duty(self) -> float:
        """The high share of a period; above one half."""
        return self.high_s / (self.high_s + self.low_s)


def width_spread(parts: OneShotParts, tolerances: Tolerances, chip: Chip) -> Spread:
    """A one-shot's width in seconds; the chip's most initial error is counted."""
    error = chip.one_shot_error[1]
    least = (1 - tolerances.resistor) * (1 - tolerances.capacitor) * (1 - error)
    most = (1 + tolerances.resistor) * (1 + tolerances.capacitor) * (1 + error)
    return Spread(parts.width_s, parts.width_s * least, parts.width_s * most)


def rate_spread(parts: AstableParts, tolerances: Tolerances, chip: Chip) -> Spread:
    """An astable's rate in hertz; the chip's most initial error is counted, the typical one where there is no other."""
    typical, worst = chip.astable_error
    error = typical if worst is None else worst
    corners = [each.rate_hz for each in _corners(parts, tolerances)]
    return Spread(parts.rate_hz, min(corners) / (1 + error), max(corners) / (1 - error))


def duty_spread(parts: AstableParts, tolerances: Tolerances) -> Spread:
    """An astable's duty as a share; the capacitor has no part in it."""
    corners = [each.duty for each in _corners(parts, tolerances)]
    return Spread(parts.duty, min(corners), max(corners))


def choose_one_shot(width_s: float, chip: Chip, count: int = 3) -> list[OneShotParts]:
    """Standard parts for a one-shot, the nearest in width first.

    Raises:
        UsageError: no standard parts that suit the chip give that width.
    """
    found = []
    for farad in standard(E6, *_CAPACITORS_F):
        parts = OneShotParts(nearest(E24, width_s / (_ONE_SHOT * farad)), farad)
        if chip.resistor_ohm[0] <= parts.ohm <= chip.resistor_ohm[1]:
            found.append(parts)
    return _best(found, lambda parts: abs(math.log(parts.width_s / width_s)), lambda parts: parts.ohm, count)


def choose_astable(rate_hz: float, duty: float, chip: Chip, count: int = 3) -> list[AstableParts]:
    """Standard parts for an astable, the nearest in rate and duty first.

    Raises:
        UsageError: the duty is not above one half, or no standard parts that suit the chip give that rate.
    """
    if not 0.5 < duty < 1:
        raise UsageError(f"duty {duty * 100:g} %: this circuit's high phase is always the longer one, 51 to 99 %")
    found = []
    for farad in standard(E6, *_CAPACITORS_F):
        unit_ohm = 1 / (rate_hz * _ASTABLE * farad)
        parts = AstableParts(nearest(E24, (2 * duty - 1) * unit_ohm), nearest(E24, (1 - duty) * unit_ohm), farad)
        smaller, whole = min(parts.supply_ohm, parts.other_ohm), parts.supply_ohm + parts.other_ohm
        if chip.resistor_ohm[0] <= smaller and whole <= chip.resistor_ohm[1]:
            found.append(parts)

    def off(parts: AstableParts) -> float:
        return abs(math.log(parts.rate_hz / rate_hz)) + abs(parts.duty - duty)

    return _best(found, off, lambda parts: parts.other_ohm, count)


def _corners(parts: AstableParts, tolerances: Tolerances) -> Iterator[AstableParts]:
    ohms = (1 - tolerances.resistor, 1 + tolerances.resistor)
    farads = (1 - tolerances.capacitor, 1 + tolerances.capacitor)
    for one, other, farad in itertools.product(ohms, ohms, farads):
        yield AstableParts(parts.supply_ohm * one, parts.other_ohm * other, parts.farad * farad)


def _best(found: list[Parts], off: Callable[[Parts], float], ohm: Callable[[Parts], float], count: int) -> list[Parts]:
    if not found:
        raise UsageError("no standard parts that suit this chip give that; ask for a time between 2 us and 300 s")
    # Half a percent is far below what parts are off by: among such equals, the resistor that suits best.
    return sorted(found, key=lambda parts: (round(off(parts) / 0.005), abs(math.log(ohm(parts) / _SUITS_OHM))))[:count]
