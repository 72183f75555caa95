"""`handtick steady`: the rate the clock gives against the rate asked for, and how much periods differ."""

from __future__ import annotations

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.searching import made_of, searching
from handtick.cli.table import Columns
from handtick.errors import UsageError
from handtick.quantities import rate_of, tick_of
from handtick.steadiness import Steadiness, histogram, steadiness
from handtick_wire.messages import read_number

_ROWS = Columns(
    ("asked (Hz)", "given (Hz)", "high given", "mean period", "shortest", "longest", "jitter"),
    (12, 12, 12, 14, 10, 10, -1),
)
_LEAST_TICKS = 3
_BAR = 40


def steady(common: Common, rates: str, count: str, duty: str | None) -> None:
    """Makes a burst at each rate and tells its periods."""
    wanted = [rate_of(each) for each in rates.split(",")]
    ticks = tick_of(count, _LEAST_TICKS)
    percent = None if duty is None else read_number(duty)
    if duty is not None and (percent is None or not 1 <= percent <= 99):
        raise UsageError(f"--duty {duty}: a whole number of percent from 1 to 99")
    with searching(common) as (bench, printer):
        engine = str(bench.greeting.fields["engine"]) if bench.greeting is not None else ""
        grain = int(bench.greeting.fields["clock_grain_us"]) if bench.greeting is not None else 0
        fit = made_of(bench, printer, wanted)
        bench.reset()
        if percent is not None:
            bench.ask("duty", percent)
        if not common.json:
            printer.answer(_ROWS.heading())
        found = {}
        for rate in fit:
            bench.ask("ignore_halt", ticks)
            made = bench.burst(ticks, rate)
            high_us = int(bench.status().fields["high_ns"]) / 1000
            found[rate] = steadiness(made, float(rate), float(bench.rate), high_us)
            _tell(printer, rate, found[rate])
        if not common.json:
            _draw(printer, found)
        printer.aside(_how(engine, grain))


def _tell(printer: Printer, rate: str, found: Steadiness) -> None:
    given = f"{1e6 / found.given_us:.6g}"
    printer.answer(
        _ROWS.row(
            rate,
            given,
            f"{found.high_us:.8g} us",
            f"{found.mean_us:.3f} us",
            f"{found.least_us} us",
            f"{found.most_us} us",
            f"{found.jitter_us} us",
        ),
        kind="steadiness",
        asked_hz=rate,
        given_hz=given,
        high_us=found.high_us,
        mean_us=round(found.mean_us, 3),
        least_us=found.least_us,
        most_us=found.most_us,
        jitter_us=found.jitter_us,
        ticks=len(found.periods_us) + 1,
    )


def _draw(printer: Printer, found: dict[str, Steadiness]) -> None:
    for rate, each in found.items():
        printer.answer(f"\nperiods at {rate} Hz:")
        classes = histogram(each.periods_us)
        most = max(count for _, _, count in classes)
        for start, end, count in classes:
            name = f"{start} us" if start == end else f"{start} to {end} us"
            bar = "=" * max(1, count * _BAR // most) if count else ""
            printer.answer(f"{name:>24}  {bar} {count}")


def _how(engine: str, grain_us: int) -> str:
    if engine == "software":
        return (
            f"measured by the board at each edge, to {max(1, grain_us)} us; the crystal's own error does not show in it"
        )
    return (
        "the hardware counts every period off in whole cycles; times are the board's account of that, in whole "
        "microseconds; the crystal's own error does not show in it"
    )
