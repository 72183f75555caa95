"""Every message on the wire, field by field: the table both ends read, and the one the reference page is made from.

A report or command is a word, then its fields. A command's fields stand in the order given here; a report's fields are
``name=value``, but for ``tick``, which is sent most and has its fields in order without names.
"""

from __future__ import annotations

PROTOCOL = 1

#: How a field is written: a whole number in decimal, a whole number in hexadecimal, a word without spaces, a rate in
#: ticks a second with at most three decimals.
NUMBER, HEX, WORD, RATE = "number", "hexadecimal", "word", "rate"

# Flags of a tick record.
FLAG_IN_RESET = 1
FLAG_DISAGREED = 2
FLAG_UNSETTLED = 4
FLAG_HALT_IGNORED = 8

#: In the place of a probe's number: no probe.
NO_PROBE = 16

REPORTS = {
    "hello": (
        ("protocol", NUMBER),
        ("board", WORD),
        ("uid", WORD),
        ("firmware", WORD),
        ("boot", NUMBER),
        ("reset", NUMBER),
        ("tick", NUMBER),
        ("edges", NUMBER),
        ("time_us", NUMBER),
        ("mode", WORD),
        ("engine", WORD),
        ("top_rate", RATE),
        ("probes", NUMBER),
        ("ring", NUMBER),
        ("waiting", NUMBER),
        ("press_grain_us", NUMBER),
        ("clock_grain_us", NUMBER),
        ("rest", WORD),
        ("when_full", WORD),
        ("started", WORD),
    ),
    "tick": (
        ("reset", NUMBER),
        ("tick", NUMBER),
        ("early", HEX),
        ("late", HEX),
        ("time_us", NUMBER),
        ("flags", HEX),
    ),
    "half": (
        ("phase", WORD),
        ("reset", NUMBER),
        ("tick", NUMBER),
        ("early", HEX),
        ("probes", HEX),
        ("time_us", NUMBER),
    ),
    "state": (
        ("mode", WORD),
        ("why", WORD),
        ("asked", WORD),
        ("reset", NUMBER),
        ("tick", NUMBER),
        ("edges", NUMBER),
        ("time_us", NUMBER),
        ("rate", RATE),
    ),
    "block": (
        ("reset", NUMBER),
        ("first", NUMBER),
        ("count", NUMBER),
        ("time_us", NUMBER),
        ("period_ps", NUMBER),
        ("flags", HEX),
        ("check", HEX),
    ),
    "cycle": (
        ("number", NUMBER),
        ("reset", NUMBER),
        ("tick", NUMBER),
        ("early", HEX),
        ("late", HEX),
        ("passed", NUMBER),
        ("time_us", NUMBER),
    ),
    "reset": (("reset", NUMBER), ("tick", NUMBER), ("edges", NUMBER)),
    "gap": (("reset", NUMBER), ("first", NUMBER), ("last", NUMBER), ("why", WORD)),
    "lost": (("reset", NUMBER), ("count", NUMBER), ("why", WORD)),
    "trouble": (("name", WORD), ("why", WORD)),
    "notice": (("what", WORD), ("count", NUMBER), ("us", NUMBER)),
    "contact": (("closed", NUMBER), ("time_us", NUMBER)),
    "status": (
        ("mode", WORD),
        ("reset", NUMBER),
        ("tick", NUMBER),
        ("edges", NUMBER),
        ("rate", RATE),
        ("halt_line", WORD),
        ("probes", HEX),
        ("waiting", NUMBER),
        ("lost", NUMBER),
        ("spikes", NUMBER),
        ("longest_gap_us", NUMBER),
        ("longest_bounce_us", NUMBER),
        ("short_halt_pulses", NUMBER),
        ("supply_mv", WORD),
        ("heap_free", NUMBER),
        ("counted", WORD),
        ("tug", WORD),
        ("chained", NUMBER),
        ("high_ns", NUMBER),
    ),
    "done": (("id", NUMBER), ("tick", NUMBER), ("edges", NUMBER)),
    "refused": (("id", NUMBER), ("why", WORD)),
    "failed": (("id", NUMBER), ("why", WORD), ("tick", NUMBER), ("edges", NUMBER)),
}

COMMANDS = {
    "who": (),
    "hello": (("nonce", NUMBER),),
    "status": (),
    "step": (("count", NUMBER),),
    "half": (),
    "run": (("rate", RATE),),
    "burst": (("count", NUMBER), ("rate", RATE)),
    "to": (("tick", NUMBER), ("rate", RATE)),
    "halt": (),
    "rate": (("rate", RATE),),
    "duty": (("percent", NUMBER),),
    "samples": (("which", WORD),),
    "limits": (("may_stop", WORD), ("longest_high_us", NUMBER), ("longest_low_us", NUMBER)),
    "ignore_halt": (("count", NUMBER),),
    "trigger": (("tick", NUMBER),),
    "ready_line": (("ready", WORD), ("probe", NUMBER), ("ignored", WORD)),
    "ready_hold": (),
    "ready_step": (("count", NUMBER),),
    "ready_go": (),
    "reset": (),
    "stop_when": (("rule", WORD),),
    "pull": (("way", WORD),),
    "contact": (("switch", WORD),),
    "typing": (("switch", WORD),),
    "bye": (),
}

# How the reports said so far are written, by kind: with places for the values of these fields.
_forms: dict[str, tuple[str, list[str]]] = {}

_DIGITS = "0123456789"

MOST_TICKS = (1 << 64) - 1
#: The most ticks one block may hold.
MOST_BLOCK = 65_536
MOST_MILLIHERTZ = 100_000_000_000
LEAST_MILLIHERTZ = 10


def say(kind: str, **fields: int | str) -> bytes:
    """Writes a report with named fields, in the table's order.

    Raises:
        KeyError: the table has no such report, or a field is missing.
    """
    if kind not in _forms:
        # Once: on a microcontroller, putting each line together word by word takes three times as long.
        names = [name for name, _ in REPORTS[kind]]
        words = ["%s=%%%s" % (name, "X" if form == HEX else "s") for name, form in REPORTS[kind]]
        _forms[kind] = " ".join([kind] + words), names
    form, names = _forms[kind]
    return (form % tuple([fields[name] for name in names])).encode()


def ask(kind: str, *values: int | str) -> bytes:
    """Writes a command with its fields in order."""
    return " ".join([kind] + [str(value) for value in values]).encode()


def read_number(word: str) -> int | None:
    """A whole number from 0 to 2**64 - 1 in plain decimal digits; None for anything else."""
    if not word or len(word) > 20 or word.strip(_DIGITS):
        return None
    value = int(word)
    return value if value <= MOST_TICKS else None


def read_rate(word: str) -> int | None:
    """A rate such as ``2``, ``0.5`` or ``1500.25`` (ticks a second) in thousandths of a hertz; None if it is none.

    Range: 0.01 Hz to 100 MHz; at most three decimals.
    """
    whole, point, part = word.partition(".")
    if not whole or (point and not part) or len(part) > 3:
        return None
    number = read_number(whole)
    thousandths = read_number((part + "000")[:3])
    if number is None or thousandths is None or number > MOST_MILLIHERTZ:
        return None
    value = number * 1000 + thousandths
    return value if LEAST_MILLIHERTZ <= value <= MOST_MILLIHERTZ else None


def write_rate(millihertz: int) -> str:
    """The rate in hertz with as many of three decimals as it needs."""
    whole, part = divmod(millihertz, 1000)
    if not part:
        return str(whole)
    return ("%d.%03d" % (whole, part)).rstrip("0")
