"""What the board's light says: each mode has a strip of sixteen eighths of a second, lit or dark, played over again."""

from __future__ import annotations

from . import transitions

#: Mode: (strip, first eighth first, "1" is lit; in words).
STRIPS = {
    transitions.REST: ("1000000000000000", "one short flash every two seconds: alive, the clock is at rest"),
    transitions.HELD: ("1111111100000000", "one second lit, one second dark: half a tick is done"),
    transitions.MOVING: ("1111111111111111", "lit: the clock is making ticks"),
    transitions.ENDING: ("1111111111111111", "lit: the clock is finishing the tick in hand"),
    transitions.WAITING: ("1010000000000000", "two short flashes: the clock waits, the host does not read"),
    transitions.IN_RESET: ("1100110011001100", "even slow flicker: the machine is being reset"),
}
TROUBLE = (
    "1010101000000000",
    "four short flashes while at rest: a setting or pin was refused; the greeting says which",
)

_EIGHTH_SHIFT = 17  # 131 ms, near enough to an eighth of a second and cheap


def lit(now_us: int, mode: str, trouble: bool) -> bool:
    """Whether the light is lit at board time ``now_us``."""
    strip = TROUBLE[0] if trouble and mode == transitions.REST else STRIPS[mode][0]
    return strip[(now_us >> _EIGHTH_SHIFT) & 15] == "1"
