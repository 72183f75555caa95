"""Values of parts as people write them, and the standard ones there are."""

from __future__ import annotations

import math
import re

from handtick.errors import UsageError

#: Standard values of a decade (IEC 60063): capacitors come in E6, resistors in E24.
E6 = (10, 15, 22, 33, 47, 68)
E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)

_PREFIXES = {"p": -12, "n": -9, "u": -6, "µ": -6, "μ": -6, "m": -3, "": 0, "k": 3, "K": 3, "M": 6}
_VALUE = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,9})?)\s*([pnuµμmkKM]?)(ohm|Ω|F|s|)")


def value_of(text: str, unit: str) -> float:
    """A value such as ``4.7k``, ``100n``, ``0.1uF`` or ``110ms`` in its unit.

    Args:
        text: the value.
        unit: "Ω", "F" or "s"; it may be left out or written.

    Raises:
        UsageError: it is none, or zero.
    """
    found = _VALUE.fullmatch(text.strip())
    written = found[3].replace("ohm", "Ω") if found else ""
    too_large = found is not None and unit != "Ω" and _PREFIXES[found[2]] > 0
    if found is None or too_large or written not in ("", unit) or float(found[1]) == 0:
        examples = {"Ω": "4.7k or 1M", "F": "100n or 10u", "s": "110ms or 2.5s"}
        raise UsageError(f"{text[:40]!r}: write it as {examples[unit]}")
    return float(f"{found[1]}e{_PREFIXES[found[2]]}")


def written(value: float, unit: str) -> str:
    """A value with three figures and the prefix that suits it."""
    for prefix, power in (("M", 6), ("k", 3), ("", 0), ("m", -3), ("u", -6), ("n", -9)):
        if abs(value) >= 0.9995 * 10**power and not (unit in ("F", "s") and power > 0):
            return f"{value / 10**power:.3g} {prefix}{unit}"
    return f"{value / 1e-12:.3g} p{unit}"


def standard(series: tuple[int, ...], least: float, most: float) -> list[float]:
    """All standard values from ``least`` to ``most``, both included, going up."""
    values = []
    for power in range(math.floor(math.log10(least)) - 1, math.ceil(math.log10(most)) + 1):
        # Written as text, a value is the nearest there is and not one that rounding has moved.
        values += [float(f"{step}e{power - 1}") for step in series]
    return [value for value in values if least <= value <= most]


def nearest(series: tuple[int, ...], value: float) -> float:
    """The standard value nearest to ``value`` by ratio."""
    return min(standard(series, value / 10, value * 10), key=lambda each: abs(math.log(each / value)))
