"""Which pin does what: the one pin map, from which the firmware takes its pins and the hardware pages are made.

A Raspberry Pi Pico has 26 pins and the whole bench wants 27, so there are named profiles; each says what it leaves out.
"""

from __future__ import annotations

#: Role: (direction as the board sees it, what it is).
ROLES = {
    "clock": ("out", "clock line to the machine, through a buffer"),
    "inverse_clock": ("out", "complement of the clock line"),
    "reset": ("out", "reset line to the machine"),
    "ready": ("out", "ready line, for machines whose clock may not stop"),
    "trigger": ("out", "trigger for an oscilloscope; in the ready line's place where the settings say so"),
    "halt": ("in", "halt line from the machine"),
    "tick_button": ("in", "tick button, to ground"),
    "run_button": ("in", "run/halt button, to ground"),
    "reset_button": ("in", "reset button, to ground"),
    "knob": ("analogue in", "rate knob, a potentiometer between 3.3 V and ground"),
    "supply_sense": ("analogue in", "the machine's supply, halved"),
    "tug": ("out", "pulls loose probe wires up or down, through 100 kohm each"),
    "chain_load": ("out", "low: the shift registers of a chain take their inputs in"),
    "chain_clock": ("out", "moves on by one what they have taken in"),
    "chain_data": ("in", "what comes out of the nearest of them"),
    "edge_counter": ("in", "counts edges at the far end of the clock wire"),
    "light": ("out", "the board's own light"),
}

#: The most probes on pins, and the most chips with eight more each on a chain.
MOST_PROBES = 16
MOST_CHIPS = 5

#: The roles that a chain takes, all of them or none.
CHAIN_ROLES = ("chain_load", "chain_clock", "chain_data")

_HAND = {"tick_button": "GP20", "run_button": "GP21", "reset_button": "GP22", "knob": "GP26"}
_LINES = {"clock": "GP16", "reset": "GP18", "halt": "GP19", "ready": "GP27", "light": "LED"}
_PROBES = tuple("GP%d" % number for number in range(16))


def _merged(*parts: dict[str, str]) -> dict[str, str]:
    whole: dict[str, str] = {}
    for part in parts:
        whole.update(part)
    return whole


#: Profile: (role to pin, probe pins with probe 0 first, what had to be left out).
PROFILES = {
    "full": (
        _merged(_LINES, _HAND, {"inverse_clock": "GP17", "supply_sense": "GP28"}),
        _PROBES,
        "the edge counter",
    ),
    "counter": (
        _merged(_LINES, _HAND, {"edge_counter": "GP17", "supply_sense": "GP28"}),
        _PROBES,
        "the inverse clock",
    ),
    "tug": (
        _merged(_LINES, _HAND, {"tug": "GP17", "supply_sense": "GP28"}),
        _PROBES,
        "the inverse clock, the edge counter",
    ),
    "chain": (
        _merged(
            {"clock": "GP16", "reset": "GP18", "halt": "GP19", "light": "LED"},
            _HAND,
            {"chain_load": "GP17", "chain_clock": "GP27", "chain_data": "GP28"},
        ),
        _PROBES,
        "the inverse clock, the ready line, supply sense, the edge counter",
    ),
    "minimal": (
        {"clock": "GP16", "tick_button": "GP20", "light": "LED"},
        (),
        "probes, reset, halt and ready lines, run and reset buttons, knob, supply sense, edge counter",
    ),
}

# Pins that can't do some things on the RP2040 and RP2350.
_ANALOGUE_PINS = ("GP26", "GP27", "GP28", "A0", "A1", "A2", "A3")


def own_profile(getenv) -> tuple[dict[str, str], tuple[str, ...]]:
    """The profile "own": pins by the names the board gives them, from settings such as ``HANDTICK_PIN_CLOCK``.

    ``HANDTICK_PIN_PROBES`` lists probe pins with spaces between, probe 0 first.
    """
    roles: dict[str, str] = {}
    for role in ROLES:
        name = getenv("HANDTICK_PIN_" + role.upper())
        if name:
            roles[role] = str(name)
    return roles, tuple(str(getenv("HANDTICK_PIN_PROBES") or "").split())


def complaints(roles: dict[str, str], probes: tuple[str, ...], known, has_gp_pins: bool) -> list[str]:
    """What is wrong with a pin map, in words; empty if nothing is.

    Args:
        roles: role to pin name.
        probes: pin names, probe 0 first.
        known: the pin names the board has.
        has_gp_pins: whether it is one of the RP2 chips, whose pins differ in what they can do.
    """
    found: list[str] = []
    if "clock" not in roles:
        found.append("no pin is given for the clock")
    if len(probes) > MOST_PROBES:
        found.append("%d probes are given; 16 is the most" % len(probes))
    missing = [role for role in CHAIN_ROLES if role not in roles]
    if 0 < len(missing) < len(CHAIN_ROLES):
        found.append("no pin is given for %s, and a chain takes three" % missing[0])
    taken: dict[str, str] = {}
    for place, pin in enumerate(probes):
        _claim(taken, "probe %d" % place, pin, known, found)
    for role, pin in roles.items():
        _claim(taken, role, pin, known, found)
        if has_gp_pins and ROLES[role][0] == "analogue in" and pin not in _ANALOGUE_PINS:
            found.append("%s can't be on %s: it is no analogue pin" % (role, pin))
    counter = roles.get("edge_counter", "")
    if has_gp_pins and counter[:2] == "GP" and counter[2:].isdigit() and int(counter[2:]) % 2 == 0:
        found.append("edge_counter can't be on %s: only pins with odd numbers count" % counter)
    return found


def _claim(taken: dict[str, str], use: str, pin: str, known, found: list[str]) -> None:
    if pin not in known:
        found.append("%s is on %s, a pin this board does not have" % (use, pin))
    elif pin in taken:
        found.append("%s and %s are both on %s" % (taken[pin], use, pin))
    taken[pin] = use
