"""What the clock's PIO program did on an emulator, kept for its picture; a test does it again and compares."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Waves:
    """Levels of lines, one character a cycle of the system clock.

    Attributes:
        lead, trail: the phases that were asked for, in cycles.
        clock: the clock line; with two phases, phase one.
        second: phase two, where there is one.
        halt: the halt line.
        samples: instants that samples show, in cycles from the beginning.
    """

    lead: int
    trail: int
    clock: str
    second: str = ""
    halt: str = ""
    samples: tuple[int, ...] = ()


#: Three ticks with samples.
TRACED = Waves(
    lead=10,
    trail=12,
    clock="00000000000001111111111000000000000111111111100000000000011111111110000000000000",
    samples=(10, 19, 32, 41, 54, 63),
)
#: Three ticks without; the halt line asks before the third.
HALTED = Waves(
    lead=10,
    trail=12,
    clock="00000000000111111111100000000000011111111110000000000000000000000000000000000000",
    halt="00000000000000000000000000000000000000000000000001111111111111111111111111111111",
)
#: Three ticks with two phases, four cycles of dead time between them.
TWO_PHASE = Waves(
    lead=10,
    trail=24,
    clock="0000000000000001111111111000000000000000000000000111111111100000000000000000000000011111111110000000",
    second="1111111111100000000000000000011111111111111110000000000000000001111111111111111000000000000000000111",
)
