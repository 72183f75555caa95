"""`handtick levels`: whether one chip drives another."""

from __future__ import annotations

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.errors import UsageError
from handtick.levels import FAMILIES, fit
from handtick_wire.messages import read_number

# The supply of a driver that nobody names: its own, or the machine's.
_OWN_V = {"rp2040": 3.3, "74LVC": 3.3}
_MOST_INPUTS = 1000


def levels(
    common: Common, driver: str, family: str, supply: str, driver_supply: str | None, inputs: str, sources: bool
) -> None:
    """Says whether, with what margin, how many, and what to put between; then the other way round."""
    printer = Printer(common.json, common.quiet)
    if sources:
        for each in FAMILIES.values():
            printer.answer(f"{each.name:7}  {each.source}", kind="family", name=each.name, source=each.source)
        return
    machine_v = _volts(supply, "--supply")
    driver_v = _OWN_V.get(driver, machine_v) if driver_supply is None else _volts(driver_supply, "--driver-supply")
    count = _count(inputs)
    for one, one_v, other, other_v, how_many in (
        (driver, driver_v, family, machine_v, count),
        (family, machine_v, driver, driver_v, 1),
    ):
        found = fit(one, one_v, other, other_v, how_many)
        advice = f"; {found.advice}" if found.advice else ""
        printer.answer(
            f"{one} at {one_v:g} V into {other} at {other_v:g} V: {found.verdict}{advice}\n"
            f"  a one is {_above(found.high_margin_v)} what the input needs, a zero {_below(found.low_margin_v)} "
            f"what it bears, by the sheets\n"
            f"  a typical one is {_above(found.typical_margin_v)} where a typical input changes over\n"
            f"  by its current it drives {found.inputs} such inputs",
            kind="levels",
            driver=one,
            driver_v=one_v,
            receiver=other,
            receiver_v=other_v,
            inputs=how_many,
            verdict=found.verdict,
            high_margin_v=round(found.high_margin_v, 3),
            low_margin_v=round(found.low_margin_v, 3),
            typical_margin_v=round(found.typical_margin_v, 3),
            most_inputs=found.inputs,
            advice=found.advice,
        )
    printer.aside("Figures are those of one maker's sheet for each family (--sources); check your own.")


def _above(volts: float) -> str:
    return f"{volts:.2f} V above" if volts >= 0 else f"{-volts:.2f} V short of"


def _below(volts: float) -> str:
    return f"{volts:.2f} V below" if volts >= 0 else f"{-volts:.2f} V above"


def _volts(text: str, option: str) -> float:
    try:
        volts = float(text.rstrip("vV "))
    except ValueError:
        volts = -1.0
    if not 0 < volts <= 20:
        raise UsageError(f"{option} {text}: a supply is a number of volts up to 20, such as 5 or 3.3")
    return volts


def _count(text: str) -> int:
    count = read_number(text)
    if count is None or not 1 <= count <= _MOST_INPUTS:
        raise UsageError(f"--inputs {text[:40]}: a number of inputs from 1 to {_MOST_INPUTS}")
    return count
