"""Whether one chip drives others: margins, how many, and what to put between where it does not."""

from __future__ import annotations

from dataclasses import dataclass

from handtick.errors import UsageError
from handtick.levels.families import FAMILIES, Family

#: Verdicts: by the sheets; only as chips usually are; not at all; it would harm the input.
GUARANTEED, TYPICAL, NO, HARMS = "guaranteed", "typical only", "no", "harms the input"


@dataclass(frozen=True, slots=True)
class Fit:
    """What driving comes to.

    Attributes:
        verdict: one of the four.
        high_margin_v: by how much a one is above what the inputs need; negative where it is short.
        low_margin_v: by how much a zero is below what they bear.
        typical_margin_v: by how much a typical one is above where a typical input changes over.
        inputs: how many inputs the output drives by its direct current; many CMOS inputs slow the edge before that.
        advice: what to put between, or to mind; empty for nothing.
    """

    verdict: str
    high_margin_v: float
    low_margin_v: float
    typical_margin_v: float
    inputs: int
    advice: str


def fit(driver: str, driver_v: float, receiver: str, receiver_v: float, inputs: int = 1) -> Fit:
    """Judges an output of one family at the inputs of another.

    Args:
        driver, receiver: names of ``FAMILIES``.
        driver_v, receiver_v: their supplies in volts.
        inputs: how many inputs the output drives, 1 or more.

    Raises:
        UsageError: there is no such family, or it is not made for that supply.
    """
    out, into = _family(driver, driver_v), _family(receiver, receiver_v)
    high = out.gives_high_v(driver_v) - into.needs_high_v(receiver_v)
    low = into.needs_low_v(receiver_v) - out.output_low_v
    typical = driver_v - out.typical_drop_v - into.changes_at_v(receiver_v)
    most = min(int(out_ma / in_ma + 1e-9) for out_ma, in_ma in zip(out.drive_ma, into.input_ma, strict=True))
    if driver_v - out.typical_drop_v > into.bears_at_v(receiver_v):
        verdict = HARMS
    elif high >= 0 and low >= 0 and inputs <= most:
        verdict = GUARANTEED
    elif typical > 0 and low >= 0 and inputs <= most:
        verdict = TYPICAL
    else:
        verdict = NO
    return Fit(verdict, high, low, typical, most, _advice(verdict, receiver_v, inputs, most))


def _advice(verdict: str, receiver_v: float, inputs: int, most: int) -> str:
    if verdict == GUARANTEED:
        return ""
    if verdict == HARMS:
        return f"put a buffer at {receiver_v:g} V before the input whose own inputs bear more, such as a 74LVC"
    if inputs > most:
        return f"it drives {most} such inputs; put a buffer before the others"
    if 4.5 <= receiver_v <= 5.5:
        return f"put a 74HCT or 74AHCT buffer at {receiver_v:g} V between: it takes 2.0 V for a one"
    return "put a buffer between whose inputs take these levels"


def _family(name: str, supply_v: float) -> Family:
    family = FAMILIES.get(name)
    if family is None:
        raise UsageError(f"family {name!r}: there is none of that name; there are {', '.join(FAMILIES)}")
    least_v, most_v = family.supply_v
    if not least_v <= supply_v <= most_v:
        raise UsageError(f"supply {supply_v:g} V: {name} is made for {least_v:g} to {most_v:g} V")
    return family
