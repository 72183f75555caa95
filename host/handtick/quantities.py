"""Reads what people type for ticks, rates and times; anything else is refused in one line."""

from __future__ import annotations

import re
from decimal import Decimal

from handtick.errors import UsageError
from handtick_wire import messages

_UNITS = {"": 0, "hz": 0, "khz": 3, "mhz": 6}
_RATE = re.compile(r"([0-9]{1,12}(?:\.[0-9]{1,12})?)(hz|khz|mhz)?", re.ASCII | re.IGNORECASE)
_SECONDS = re.compile(r"([0-9]{1,9}(?:\.[0-9]{1,6})?)(s|ms|min)", re.ASCII)
_SECONDS_A_UNIT = {"s": 1.0, "ms": 0.001, "min": 60.0}


def rate_of(text: str) -> str:
    """A rate such as ``2``, ``2Hz``, ``0.5``, ``1.5kHz`` or ``1MHz``, in ticks a second as the wire writes it.

    Raises:
        UsageError: it is no rate, has more than three decimals in hertz, or lies outside 0.01 Hz to 100 MHz.
    """
    found = _RATE.fullmatch(text.strip())
    if found is None:
        raise UsageError(f"rate {_shown(text)}: write it as 2, 2Hz, 0.5, 1.5kHz or 1MHz")
    millihertz = Decimal(found[1]).scaleb(3 + _UNITS[(found[2] or "").lower()])
    if millihertz != int(millihertz):
        raise UsageError(f"rate {_shown(text)}: a thousandth of a hertz is the finest there is")
    if not messages.LEAST_MILLIHERTZ <= millihertz <= messages.MOST_MILLIHERTZ:
        raise UsageError(f"rate {_shown(text)}: rates go from 0.01Hz to 100MHz")
    return messages.write_rate(int(millihertz))


def samples_of(text: str) -> str:
    """Of which ticks samples are wanted: ``all``, ``last`` or ``auto``.

    Raises:
        UsageError: it is none of them.
    """
    if text not in ("all", "last", "auto"):
        raise UsageError(f"--samples {_shown(text)}: write all, last or auto")
    return text


def tick_of(text: str, least: int = 0) -> int:
    """A tick number or a count of ticks: a whole number from ``least`` to 2^64 - 1.

    Raises:
        UsageError: it is anything else.
    """
    value = messages.read_number(text.strip())
    if value is None or value < least:
        raise UsageError(f"{_shown(text)}: ticks are whole numbers from {least} to 2^64 - 1")
    return value


def extent_of(text: str) -> int | float:
    """How long to run: ticks such as ``40``, or a time such as ``10s``, ``500ms`` or ``2min``.

    Returns:
        Ticks as a whole number, or seconds as a float: the type tells which.

    Raises:
        UsageError: it is neither, or nothing at all.
    """
    found = _SECONDS.fullmatch(text.strip())
    if found is not None and float(found[1]) > 0:
        return float(found[1]) * _SECONDS_A_UNIT[found[2]]
    if found is None and messages.read_number(text.strip()):
        return tick_of(text, 1)
    raise UsageError(f"--for {_shown(text)}: give ticks, such as 40, or a time, such as 10s, 500ms or 2min")


def span_of(text: str) -> tuple[int, int]:
    """A span of ticks such as ``400..412``, or one tick: the first and the last.

    Raises:
        UsageError: it is no span, or runs backwards.
    """
    first, dots, last = text.strip().partition("..")
    span = tick_of(first), tick_of(last if dots else first)
    if span[1] < span[0]:
        raise UsageError(f"ticks {_shown(text)}: the first comes after the last")
    return span


def _shown(text: str) -> str:
    """What was typed, short enough for one line."""
    return repr(text if len(text) <= 40 else text[:37] + "...")
