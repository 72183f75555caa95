"""What the user may choose, each with its unit and range; a value that does not fit is refused by name.

On a board the values come from ``settings.toml``, whose values are strings and whole numbers.
"""

from __future__ import annotations

import gc

from handtick_wire.messages import read_number, read_rate

from .settings import Settings

_LEAST_RING = 16

# How a setting is written.
WHOLE = "whole number"
RATE = "rate"
CHOICE = "one of"

#: Name in settings.toml, attribute, form, (least, most) or the choices, what it is for. Rates are in hertz there and in
#: thousandths of a hertz in the attribute.
TABLE = (
    (
        "HANDTICK_PROFILE",
        "profile",
        CHOICE,
        ("full", "counter", "tug", "chain", "minimal", "own"),
        "which pins do what; see the pin table",
    ),
    ("HANDTICK_PRESS_US", "press_us", WHOLE, (1, 50_000), "microseconds the tick button must be closed to be a press"),
    ("HANDTICK_REARM_US", "rearm_us", WHOLE, (1000, 500_000), "microseconds it must be open to be ready for the next"),
    ("HANDTICK_STEP_US", "step_us", WHOLE, (1, 1_000_000), "microseconds of each phase of a tick made by hand or step"),
    ("HANDTICK_RATE", "rate_mhz", RATE, (10, 10_000_000_000), "ticks a second at the start, 0.01 to 10000000"),
    (
        "HANDTICK_TOP_RATE",
        "top_rate_mhz",
        RATE,
        (10, 100_000_000_000),
        "the most ticks a second that the machine takes; the clock engine has a limit of its own",
    ),
    ("HANDTICK_DUTY", "duty_percent", WHOLE, (1, 99), "percent of the period the clock line is high at a rate"),
    ("HANDTICK_RESET_TICKS", "reset_ticks", WHOLE, (1, 1000), "clean ticks made while reset is asserted"),
    (
        "HANDTICK_RING",
        "ring",
        WHOLE,
        (_LEAST_RING, 8192),
        "ticks kept while the host does not read, four or eight bytes each; 1024 at most with a chain, and fewer where "
        "memory is short",
    ),
    ("HANDTICK_REST", "rest_high", CHOICE, ("low", "high"), "level of the clock line at rest, at the machine"),
    ("HANDTICK_ACTIVE_EDGE", "active_falling", CHOICE, ("rising", "falling"), "edge that clocks the machine"),
    (
        "HANDTICK_BUFFER",
        "inverting",
        CHOICE,
        ("straight", "inverting"),
        "the buffer between the clock pin and the machine",
    ),
    (
        "HANDTICK_SECOND_OUTPUT",
        "outputs",
        CHOICE,
        ("inverse", "two-phase"),
        "the pin beside the clock's: its complement, or the second of two phases",
    ),
    (
        "HANDTICK_SPARE",
        "spare",
        CHOICE,
        ("ready", "trigger"),
        "what the ready line's pin is: the ready line, or a trigger for an oscilloscope",
    ),
    (
        "HANDTICK_DEAD_NS",
        "dead_ns",
        WHOLE,
        (1, 64),
        "nanoseconds between one of two phases and the other, rounded up to whole cycles",
    ),
    ("HANDTICK_RESET_ACTIVE", "reset_high", CHOICE, ("low", "high"), "level that resets the machine"),
    ("HANDTICK_HALT_ACTIVE", "halt_low", CHOICE, ("high", "low"), "level of the halt line that halts the clock"),
    ("HANDTICK_PROBE_PULL", "probe_pull", CHOICE, ("down", "up", "none"), "the board's weak pull on every probe"),
    ("HANDTICK_CHAIN", "chain", WHOLE, (1, 5), "chips on the chain, eight probes each, where the profile has one"),
    (
        "HANDTICK_WHEN_FULL",
        "when_full",
        CHOICE,
        ("pause", "free"),
        "ring full: hold the clock, or run on and count losses",
    ),
    ("HANDTICK_WHEN_HOST_GONE", "when_host_gone", CHOICE, ("rest", "run"), "cable or program gone: rest, or run on"),
)

#: Choices whose attribute is true or false: true is the second one.
_YES_OR_NO = ("rest_high", "active_falling", "inverting", "reset_high", "halt_low")

NOT_ONE_OF = "not-one-of-its-choices"
NOT_A_NUMBER = "not-a-whole-number"
NOT_A_RATE = "not-a-rate"
OUT_OF_RANGE = "out-of-range"
TOO_LITTLE_MEMORY = "too-little-memory"


def read_settings(getenv) -> tuple[Settings, list[tuple[str, str]]]:
    """Reads the settings.

    Args:
        getenv: gives the string or whole number of a name, or None.

    Returns:
        The settings, with the default where nothing or nothing usable was given, and (name, why) of each refused one.
    """
    settings = Settings()
    refused: list[tuple[str, str]] = []
    for name, attribute, form, span, _ in TABLE:
        given = getenv(name)
        if given is None:
            continue
        value, why = _read(str(given).strip(), attribute, form, span)
        if why:
            refused.append((name, why))
        else:
            setattr(settings, attribute, value)
    return settings, refused


def fitted(settings: Settings, make):
    """What ``make()`` makes; where memory is too short for it, with a ring that is shorter by a quarter, as often as it
    takes.
    """
    while True:
        try:
            return make()
        except MemoryError:
            if settings.ring == _LEAST_RING:
                raise
            settings.ring = max(_LEAST_RING, settings.ring * 3 // 4)
        # What was half made is gone before the next try.
        gc.collect()


def _read(word: str, attribute: str, form: str, span: tuple) -> tuple[object, str]:
    """The value of a setting and an empty string, or None and why it is refused."""
    if form == CHOICE:
        if word not in span:
            return None, NOT_ONE_OF
        return (word == span[1] if attribute in _YES_OR_NO else word), ""
    value = read_rate(word) if form == RATE else read_number(word)
    if value is None:
        return None, NOT_A_RATE if form == RATE else NOT_A_NUMBER
    if not span[0] <= value <= span[1]:
        return None, OUT_OF_RANGE
    return value, ""
