"""Clock edges sent against edges seen at the far end of the wire, and what to look for where they differ."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from handtick.bench import Bench
from handtick.errors import UsageError
from handtick.wiring import Bus

#: What to try, in this order, where more edges are seen than were sent: the wire rings.
TOO_MANY = (
    "a series resistor at the driver: 47 Ω to begin with, 33 to 100 Ω",
    "a ground wire beside the clock wire, and a shorter clock wire",
    "100 nF at the supply pins of every chip on the clock, and of the driver",
    "a slower driver: 74HCT rather than 74AHCT, 74AC or 74ACT",
)

#: The same where fewer are seen.
TOO_FEW = (
    "levels: does the driver reach what the inputs need? See: handtick levels",
    "load: how many inputs are on the line, and is there a capacitor on it?",
    "the contact of the wire at both ends",
    "whether the counter is enabled, and counts this edge and not the other",
)


@dataclass(frozen=True, slots=True)
class Burst:
    """One burst.

    Attributes:
        rate_hz: the rate it was made at, as the wire writes it.
        sent: ticks made.
        seen: edges counted at the far end.
    """

    rate_hz: str
    sent: int
    seen: int

    @property
    def good(self) -> bool:
        """Whether each edge was seen once."""
        return self.sent == self.seen


def advice(bursts: list[Burst]) -> tuple[str, ...]:
    """What to try, in order; empty where every edge was seen once."""
    if any(burst.seen > burst.sent for burst in bursts):
        return TOO_MANY
    return TOO_FEW if any(burst.seen < burst.sent for burst in bursts) else ()


def board_counter(bench: Bench) -> Callable[[], int]:
    """A function that reads the board's own counter at the far end of the wire.

    Raises:
        UsageError: the board has none.
    """

    def read() -> int:
        return int(bench.status().fields["counted"])

    if str(bench.status().fields["counted"]) == "none":
        raise UsageError(
            'this board has no edge counter: set HANDTICK_PROFILE = "counter", or name with --bus a bus of the machine '
            "that counts ticks"
        )
    return read


def bus_counter(bench: Bench, bus: Bus) -> Callable[[], int]:
    """A function that reads a counter of the machine from its probes."""
    return lambda: bus.value(int(bench.status().fields["probes"]))


def count_edges(
    bench: Bench, counter: Callable[[], int], rates: list[str], count: int, modulus: int | None = None
) -> list[Burst]:
    """Makes a burst at each rate and reads the counter at rest before and after it.

    Args:
        bench: the bench; its machine is clocked.
        counter: reads the counter.
        rates: rates as the wire writes them.
        count: ticks of each burst, 1 or more.
        modulus: where the counter wraps; None where it does not. A burst that differs by as much or more is told wrong.
    """
    bursts = []
    for rate in rates:
        before = counter()
        bench.ask("ignore_halt", count)
        bench.burst(count, rate)
        seen = counter() - before
        if modulus is not None:
            # The count nearest to what was sent that the counter may have come by.
            seen = count + (seen - count + modulus // 2) % modulus - modulus // 2
        bursts.append(Burst(rate, count, seen))
    return bursts
