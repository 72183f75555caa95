"""The guided first wiring: finds which probe each wire hangs on, and writes the wiring file.

The wires are told apart before they are connected to the machine: each probe is pulled up weakly, and whoever wires the
bench touches one free end to ground at a time. Nothing that is driven is ever held to ground.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from handtick.bench import Bench
from handtick.errors import StoppedEarly, UsageError
from handtick.whole_file import write_whole
from handtick.wiring.model import Bus
from handtick.wiring.write import wiring_text

_PATIENCE_S = 120.0
_LOOK_S = 0.05
# So many looks in a row must agree: a wire touched by hand bounces.
_SURE = 3


class Talk(Protocol):
    """How the guide speaks with a person."""

    def tell(self, text: str) -> None:
        """Says something."""

    def ask(self, question: str) -> str:
        """Asks something and returns the answer without spaces around it.

        Raises:
            StoppedEarly: there will be no answer.
        """
        ...


class Guide:
    """Leads through the wiring of one bench.

    Args:
        bench: the bench, open.
        talk: the person.
        file: the wiring file to write.
        now_s: the time in seconds, for patience.

    Attributes:
        buses: the names found so far.
    """

    def __init__(self, bench: Bench, talk: Talk, file: Path, now_s: Callable[[], float] = time.monotonic) -> None:
        self.buses: list[Bus] = []
        self._bench = bench
        self._talk = talk
        self._file = file
        self._now_s = now_s
        assert bench.greeting is not None
        # Probes on a chain have no pulls: their wires can't be told one from another by touching ground.
        self._count = int(bench.greeting.fields["probes"]) - int(bench.status().fields["chained"])

    def run(self) -> None:
        """Asks for names, finds their wires' probes, and writes the file after each.

        Raises:
            UsageError: the board has no probes.
            StoppedEarly: the person gave up; what was named is in the file.
        """
        if not self._count:
            raise UsageError("this board's pin profile has no probes; choose another with HANDTICK_PROFILE")
        self._talk.tell(
            "Switch the machine's supply off, and leave the free ends of the probe wires unconnected for now.\n"
            "I ask for names; then touch the free end of the wire I ask for to the board's ground, and hold it there."
        )
        self._talk.ask("Press Enter when no free end touches anything. ")
        self._bench.ask("pull", "up")
        try:
            usable = self._usable()
            while name := self._name():
                self._bus(name, self._width(name, usable), usable)
                self._write()
        finally:
            self._bench.ask("pull", "set")
        if not self.buses:
            raise StoppedEarly("wire: nothing was named, and nothing written")
        self._talk.tell(
            f"{self._file} is written. Connect each free end to its own line of the machine, and clock, reset and halt "
            "as the wiring list shows; then switch the machine's supply on."
        )

    def _usable(self) -> int:
        """The probes that the pull lifts, one bit each; says which it does not."""
        self._bench.listen(_LOOK_S)
        high = self._look()
        low = [str(probe) for probe in range(self._count) if not high >> probe & 1]
        if low:
            self._talk.tell(
                f"Left out, because something holds them low: probe {', '.join(low)}. Is its free end connected?"
            )
        return high

    def _name(self) -> str:
        while True:
            name = self._talk.ask("Name of a bus or line (Enter: no more): ")
            if name and not name.isprintable():
                self._talk.tell("A name is made of letters, digits and signs that can be seen.")
            elif any(bus.name == name for bus in self.buses):
                self._talk.tell(f"There is a {name} already.")
            else:
                return name

    def _width(self, name: str, usable: int) -> int:
        left = usable.bit_count() - sum(bus.width for bus in self.buses)
        if not left:
            raise StoppedEarly(f"wire: every probe has its name; there is none left for {name}")
        while True:
            answer = self._talk.ask(f"How many wires has {name} (1 to {left})? ")
            if answer.isdecimal() and len(answer) <= 2 and 1 <= int(answer) <= left:
                return int(answer)
            self._talk.tell(f"{answer or 'Nothing'} is no whole number from 1 to {left}.")

    def _bus(self, name: str, width: int, usable: int) -> None:
        probes: list[int] = []
        for bit in range(width):
            wire = name if width == 1 else f"{name} {bit}" + (" (the lowest bit)" if bit == 0 else "")
            self._talk.tell(f"Touch the wire you want to call {wire} to ground.")
            probe = self._touched(usable, probes)
            probes.append(probe)
            self._talk.tell(f"{wire} is probe {probe}. Let go.")
            self._wait(usable, lambda low: low == 0, "the wire is still at ground; let go of it")
        self.buses.append(Bus(name, tuple(probes), "decimal" if width == 1 else "hex"))

    def _touched(self, usable: int, here: list[int]) -> int:
        taken = {probe: bus.name for bus in self.buses for probe in bus.probes}
        taken.update(dict.fromkeys(here, "this one"))
        told = [0]
        deadline_s = self._now_s() + _PATIENCE_S
        while True:
            low = self._wait(usable, lambda low: low not in told, "no wire was touched to ground", deadline_s)
            probes = [probe for probe in range(self._count) if low >> probe & 1]
            told.append(low)
            if len(probes) > 1:
                names = " and ".join(map(str, probes))
                self._talk.tell(f"Probes {names} went low together: do their wires touch? Touch one alone.")
            elif probes[0] in taken:
                self._talk.tell(
                    f"That is probe {probes[0]}, which belongs to {taken[probes[0]]} already; touch another."
                )
            else:
                return probes[0]

    def _wait(self, usable: int, right: Callable[[int], bool], trouble: str, deadline_s: float | None = None) -> int:
        """Looks until the low probes are right, several times the same; returns them, one bit each."""
        deadline_s = self._now_s() + _PATIENCE_S if deadline_s is None else deadline_s
        before, same = -1, 0
        while True:
            low = usable & ~self._look()
            same = same + 1 if low == before else 1
            before = low
            if same >= _SURE and right(low):
                return low
            if self._now_s() > deadline_s:
                raise StoppedEarly(
                    f"wire: {trouble} within {_PATIENCE_S:g} s; what was named so far is in {self._file}"
                )
            self._bench.listen(_LOOK_S)

    def _look(self) -> int:
        return int(self._bench.status().fields["probes"])

    def _write(self) -> None:
        write_whole(self._file, wiring_text(self.buses).encode())
