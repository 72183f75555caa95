"""`handtick timers`: parts of a timer chip and the times they give, with the software one-shot beside them."""

from __future__ import annotations

from collections.abc import Sequence

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.errors import UsageError
from handtick.levels import FAMILIES
from handtick.quantities import rate_of
from handtick.timers import (
    CHIPS,
    AstableParts,
    Chip,
    OneShotParts,
    Spread,
    Tolerances,
    choose_astable,
    choose_one_shot,
    duty_spread,
    rate_spread,
    width_spread,
)
from handtick.timers.values import value_of, written
from handtick_board.one_shot import PRESS_US
from handtick_wire.messages import read_number

_SCALE = 48
# A Pico's crystal, by the sheet of its maker: 30 parts in a million.
_CRYSTAL = 30e-6


def one_shot(
    common: Common,
    chip: str,
    resistor: str | None,
    capacitor: str | None,
    width: str | None,
    tolerances: tuple[str, str],
) -> None:
    """Says what a one-shot's parts give, or which parts give a width."""
    printer, timer, spreads = Printer(common.json, common.quiet), _chip(chip), _tolerances(*tolerances)
    if width is not None and resistor is None and capacitor is None:
        found = choose_one_shot(value_of(width, "s"), timer)
    elif width is None and resistor is not None and capacitor is not None:
        found = [OneShotParts(value_of(resistor, "Ω"), value_of(capacitor, "F"))]
    else:
        raise UsageError("give --r and --c to have the width, or --width to have the parts")
    for parts in found:
        spread = width_spread(parts, spreads, timer)
        picture = _bars("s", [("timer", spread), ("software", _software(spread.nominal))])
        printer.answer(
            f"R {written(parts.ohm, 'Ω')}, C {written(parts.farad, 'F')}: {_span(spread, 's')}\n{picture}",
            kind="one_shot",
            chip=timer.name,
            r_ohm=parts.ohm,
            c_farad=parts.farad,
            width_s=spread.nominal,
            least_s=spread.least,
            most_s=spread.most,
        )
    _say_rest(printer, timer)


def astable(
    common: Common,
    chip: str,
    resistors: tuple[str | None, str | None],
    capacitor: str | None,
    wanted: tuple[str | None, str],
    tolerances: tuple[str, str],
) -> None:
    """Says what an astable's parts give, or which parts give a rate and a duty."""
    printer, timer, spreads = Printer(common.json, common.quiet), _chip(chip), _tolerances(*tolerances)
    rate, duty = wanted
    if rate is not None and (*resistors, capacitor) == (None, None, None):
        found = choose_astable(float(rate_of(rate)), _percent(duty, "--duty"), timer)
    elif rate is None and resistors[0] is not None and resistors[1] is not None and capacitor is not None:
        ohms = [value_of(each, "Ω") for each in resistors if each is not None]
        found = [AstableParts(ohms[0], ohms[1], value_of(capacitor, "F"))]
    else:
        raise UsageError("give --r1, --r2 and --c to have the rate, or --rate (and --duty) to have the parts")
    for parts in found:
        rates, duties = rate_spread(parts, spreads, timer), duty_spread(parts, spreads)
        picture = _bars("Hz", [("timer", rates), ("software", _software(rates.nominal))])
        printer.answer(
            f"R1 {written(parts.supply_ohm, 'Ω')}, R2 {written(parts.other_ohm, 'Ω')}, "
            f"C {written(parts.farad, 'F')}: {_span(rates, 'Hz')}, high "
            f"{duties.nominal:.1%} ({duties.least:.1%} to {duties.most:.1%})\n{picture}\n{_wave(duties.nominal)}",
            kind="astable",
            chip=timer.name,
            r1_ohm=parts.supply_ohm,
            r2_ohm=parts.other_ohm,
            c_farad=parts.farad,
            rate_hz=rates.nominal,
            least_hz=rates.least,
            most_hz=rates.most,
            duty=duties.nominal,
            least_duty=duties.least,
            most_duty=duties.most,
        )
    _say_rest(printer, timer)


def _say_rest(printer: Printer, chip: Chip) -> None:
    least_v, typical_v = chip.high_v
    needs = {name: FAMILIES[name].needs_high_v(5.0) for name in ("74HC", "74HCT")}
    words = ", ".join(
        f"{name} needs {volts:g} V: {'yes' if least_v >= volts else 'not guaranteed'}" for name, volts in needs.items()
    )
    printer.aside(
        f"The output of this chip at 5 V is {least_v:g} V at least when high, {typical_v:g} V typically; {words}.\n"
        f"The software one-shot: any number of microseconds, its crystal's error ({_CRYSTAL * 1e6:g} in a million), "
        f"a tick {PRESS_US / 1000:g} ms after the press, and no tick at release.\n"
        f"Figures: {chip.source}; check your own sheet."
    )


def _bars(unit: str, rows: Sequence[tuple[str, Spread]]) -> str:
    """Each spread as a bar on one scale from zero: = always there, - perhaps, | as marked."""
    most = max(spread.most for _, spread in rows)
    lines = []
    for name, spread in rows:
        least, nominal, far = (round(each / most * _SCALE) for each in (spread.least, spread.nominal, spread.most))
        bar = "".join("|" if at == nominal else "=" if at < least else "-" for at in range(far + 1))
        lines.append(f"  {name:<9} {bar:<{_SCALE + 2}} {_span(spread, unit)}")
    return "\n".join(lines)


def _wave(duty: float) -> str:
    """Two periods of the output."""
    high = round(duty * _SCALE / 2)
    low = _SCALE // 2 - high
    return f"  {'output':<9} {('‾' * high + '_' * low) * 2}"


def _software(nominal: float) -> Spread:
    return Spread(nominal, nominal * (1 - _CRYSTAL), nominal * (1 + _CRYSTAL))


def _span(spread: Spread, unit: str) -> str:
    if spread.most / spread.least < 1.001:
        return written(spread.nominal, unit)
    return f"{written(spread.nominal, unit)} ({written(spread.least, unit)} to {written(spread.most, unit)})"


def _chip(name: str) -> Chip:
    if name not in CHIPS:
        raise UsageError(f"--chip {name}: there are {' and '.join(CHIPS)}")
    return CHIPS[name]


def _tolerances(resistor: str, capacitor: str) -> Tolerances:
    return Tolerances(_percent(resistor, "--r-tolerance"), _percent(capacitor, "--c-tolerance"))


def _percent(text: str, option: str) -> float:
    value = read_number(text.removesuffix("%").strip())
    if value is None or not 0 <= value < 100:
        raise UsageError(f"{option} {text}: a whole number of percent below 100")
    return value / 100
