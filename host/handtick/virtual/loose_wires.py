"""A machine whose probe wires hang loose until they are connected, in whatever order somebody chose."""

from __future__ import annotations

from collections.abc import Sequence

from handtick.virtual.pins import Machine


class LooseWires:
    """Stands between a machine and the board's probes.

    Args:
        machine: the machine.
        order: for each probe, the machine's line its wire will be connected to; a permutation of 0 to 15.
        bad: probes whose loose wires lie against ground from the start.

    Attributes:
        connected: whether the free ends are at the machine.
        touching: the machine's line whose wire is held to ground by hand; None for none.
    """

    def __init__(self, machine: Machine, order: Sequence[int], bad: Sequence[int] = ()) -> None:
        self.connected = False
        self.touching: int | None = None
        self._machine = machine
        self._order = list(order)
        self._bad = frozenset(bad)
        self._high = False

    def set_clock(self, level: bool) -> None:
        """See ``Machine``."""
        self._machine.set_clock(level)

    def set_reset(self, asserted: bool) -> None:
        """See ``Machine``."""
        self._machine.set_reset(asserted)

    def set_pull(self, way: str) -> None:
        """Loose wires follow the pull."""
        self._high = way == "up"
        self._machine.set_pull(way)

    def probes(self) -> int:
        """All probed lines now, bit k = probe k."""
        if self.connected:
            lines = self._machine.probes()
            return sum((lines >> line & 1) << probe for probe, line in enumerate(self._order))
        return sum(
            1 << probe
            for probe, line in enumerate(self._order)
            if self._high and probe not in self._bad and line != self.touching
        )

    @property
    def halted(self) -> bool:
        """See ``Machine``."""
        return self._machine.halted
