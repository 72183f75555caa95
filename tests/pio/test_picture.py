"""The picture of the clock engine shows what the PIO program does."""

from __future__ import annotations

import pytest

from handtick.clock_waves import HALTED, TRACED, TWO_PHASE, Waves

from .bench import Bench
from .emulators import BENCHES
from .hand import Hand, Wiring

# The picture begins so many cycles before the last word of those that send off a burst.
_LEAD_IN = 9


def simulated(kind: type[Bench], wiring: Wiring, kept: Waves, traced: bool, halt_at: int | None = None) -> Waves:
    """Three ticks with the phases of some waves, and for as many cycles as those."""
    hand = Hand(kind(wiring.program()), wiring)
    bench = hand.bench
    began = bench.now + hand.loading_cycles - 1 - _LEAD_IN
    seen: list[tuple[int, int]] = []

    def look() -> None:
        # The probes tell the cycle, so that a sample tells when it was taken.
        bench.probes = at = bench.now - began
        if at == halt_at:
            bench.halt = 1
        seen.append((bench.pins, bench.halt))
        bench.events[bench.now + 1] = look

    bench.events[began] = look
    hand.start(3, kept.lead, kept.trail, traced)
    bench.run(len(kept.clock) + began - bench.now)
    return Waves(
        kept.lead,
        kept.trail,
        "".join(str(pins & 1) for pins, _ in seen),
        "".join(str(pins >> 1) for pins, _ in seen) if wiring.two_phase else "",
        "".join(str(halt) for _, halt in seen) if halt_at else "",
        tuple((word & 0xFFFF) + 1 for word in bench.words),
    )


@pytest.mark.parametrize("kind", BENCHES.values(), ids=BENCHES)
def test_picture_is_what_the_emulators_do(kind: type[Bench]) -> None:
    """Each line of the picture is what either emulator makes of the program, cycle by cycle."""
    assert simulated(kind, Wiring(), TRACED, traced=True) == TRACED
    assert simulated(kind, Wiring(), HALTED, traced=False, halt_at=HALTED.halt.index("1")) == HALTED
    assert simulated(kind, Wiring("two-phase", dead_cycles=4), TWO_PHASE, traced=False) == TWO_PHASE
