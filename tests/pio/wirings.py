"""The wirings of the machine's clock that the PIO program is tried for."""

from __future__ import annotations

import itertools

from .hand import Wiring

OUTPUTS = ("clock", "inverse", "two-phase")
HALTS = ("high", "low", "none")

#: Every kind of program, at rest low and at rest high, with dead times drawn out by one instruction or two.
EVERY = [
    Wiring(outputs, halt, inverted, dead_cycles)
    for outputs, halt, inverted in itertools.product(OUTPUTS, HALTS, (False, True))
    for dead_cycles in ((2, 3, 5, 6, 8) if outputs == "two-phase" else (2,))
] + [Wiring("clock", probes=False)]

#: One of every kind, for what takes long.
SOME = [
    Wiring("clock", "high"),
    Wiring("clock", "low", inverted=True),
    Wiring("clock", "none", probes=False),
    Wiring("inverse", "high", inverted=True),
    Wiring("inverse", "low"),
    Wiring("inverse", "none"),
    Wiring("two-phase", "high", inverted=True, dead_cycles=3),
    Wiring("two-phase", "low", dead_cycles=8),
    Wiring("two-phase", "none", dead_cycles=5),
]

#: What is tried where every one would take too long.
PART = list(dict.fromkeys(EVERY[::2] + SOME))
