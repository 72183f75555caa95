"""How fast the virtual board makes ticks, with Larch and with a machine that does nothing."""

from __future__ import annotations

from collections.abc import Iterator

from benchmarks.heard import SoftwareBoard, said
from benchmarks.rows import Row, speed
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.pins import Machine
from handtick.virtual.rain_tally import LONG_TALLY

TITLE = "The virtual board"
NOTE = (
    "The firmware's own loop and a host that reads it. The floor is Larch clocked by hand: two looks at its probes and "
    "two edges a tick."
)
_BURST = 300_000
_LINES = 20_000


class Still:
    """A machine whose lines never move."""

    halted = False

    def set_clock(self, level: bool) -> None:
        """Takes the clock line's level."""

    def set_reset(self, asserted: bool) -> None:
        """Takes the reset line's state."""

    def set_pull(self, way: str) -> None:
        """Its lines are driven."""

    def probes(self) -> int:
        """All probes low."""
        return 0


def rows() -> Iterator[Row]:
    """Bursts as PIO makes them, and ticks timed one by one."""
    for what, machine in (("with Larch", Larch(LONG_TALLY)), ("without", Still())):
        yield _row(f"bursts, {what}", machine, VirtualBoard, _BURST)
    for what, machine in (("with Larch", Larch(LONG_TALLY)), ("without", Still())):
        yield _row(f"ticks one by one, {what}", machine, SoftwareBoard, _LINES)


def _row(what: str, machine: Machine, kind: type[VirtualBoard], ticks: int) -> Row:
    return speed(
        what,
        lambda: said(kind(machine), ticks),
        "Larch by hand",
        lambda: _by_hand(Larch(LONG_TALLY), ticks),
        ticks,
        runs=3,
    )


def _by_hand(larch: Larch, ticks: int) -> None:
    for _ in range(ticks):
        larch.probes()
        larch.set_clock(True)
        larch.probes()
        larch.set_clock(False)
