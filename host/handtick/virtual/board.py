"""The virtual board: the firmware's own loop in virtual time, with a machine on its pins.

Time is a number that moves when ``run_until`` is called, straight to the next thing that happens. What a person's hand
or a machine does to the pins is scheduled with ``at``.
"""

from __future__ import annotations

import heapq
import itertools
from collections.abc import Callable, Iterable
from typing import ClassVar

from handtick.virtual.burst_line import BurstLine
from handtick.virtual.chain_chips import ChainOfChips
from handtick.virtual.pins import Contact, FarEnd, HaltPin, Machine, OutputPin, Port, Probes, Supply
from handtick.virtual.ready_line import ReadyLine, has_ready
from handtick_board.board import Board
from handtick_board.chain import CHIP_BITS, ChainedProbes
from handtick_board.rim import Identity, Rim
from handtick_board.settings import Settings
from handtick_board.us_time import wrapped

_WRAP_US = 1 << 30
# The loop must look at its time at least this often for its 64-bit time to be right, as the real loop always does.
_LONGEST_NAP_US = _WRAP_US // 4
# While the hardware makes a burst, the loop looks after it about as often as that of a real board.
_PASS_US = 2000
_PROBES = 16


class VirtualBoard:
    """A board and its machine.

    Args:
        machine: what hangs on the pins.
        settings: the board's settings; the defaults if None.
        boot: boot number.
        start_us: virtual time at which the board starts, in microseconds of any size.
        lateness: gives how late the loop comes to its next pass, in microseconds, each time it is asked; None for
            never.
        port_room: bytes the port takes before the host must read.
        chain: chips whose inputs are further probes, read out as the settings' ``chain`` says; None for none. With them
            there are no bursts.
        supply: its ``read_mv()`` gives the machine's supply in millivolts; None where it is not sensed.

    Attributes:
        hand: called when the host begins to watch the tick button; None for nobody there.
        bursts: whether boards made from now on have hardware that makes bursts of ticks, as the PIO of a real one.
        rewired: given the simulated pins, gives those that the firmware gets; here the same. Another kind of pin can
            stand between the two for all boards made from then on.
    """

    bursts: ClassVar[bool] = True
    rewired: ClassVar[Callable[[Rim], Rim]] = staticmethod(lambda rim: rim)

    def __init__(
        self,
        machine: Machine,
        settings: Settings | None = None,
        boot: int = 1,
        start_us: int = 0,
        lateness: Callable[[], int] | None = None,
        port_room: int = 4096,
        supply: Supply | None = None,
        chain: ChainOfChips | None = None,
    ) -> None:
        self.now_us = start_us
        self.machine = machine
        self.settings = settings or Settings()
        self.halt_pin = HaltPin(machine, self._before_change)
        self.ready: ReadyLine | None = None
        bursts = type(self).bursts and chain is None
        if bursts:
            set_clock = machine.set_clock
            if has_ready(machine):
                self.ready = ReadyLine(machine, not self.settings.active_falling, lambda: self.moment_us)
                set_clock = self.ready.set_clock
            self.line: OutputPin = BurstLine(self.settings.rest_high, self._now, machine, self.halt_pin, set_clock)
        else:
            self.line = OutputPin(self.settings.rest_high, self._now, machine.set_clock)
        self.reset_line = OutputPin(False, self._now, machine.set_reset)
        self.contact = Contact()
        self.trigger = OutputPin(False, self._now)
        self.port = Port(port_room)
        self._lateness = lateness
        self._agenda: list[tuple[int, int, Callable[[], None]]] = []
        self._order = itertools.count()
        chained = 0 if chain is None else self.settings.chain * CHIP_BITS
        rim = Rim(
            self.line,
            self.reset_line,
            self.halt_pin,
            _reader(machine, self.settings, chain),
            self.contact,
            self.port,
            lambda: wrapped(self.now_us),
            _PROBES + chained,
            supply=supply,
            bursts=bursts,
            trigger=self.trigger,
            make_ready=None if self.ready is None else self.ready.make,
            counter=FarEnd(self.line, machine),
            chained=chained,
        )
        self.board = Board(
            type(self).rewired(rim), self.settings, Identity("virtual", "virtual-bench", boot, "power-on")
        )
        self.hand: Callable[[], None] | None = None
        self._watched = False
        self._settle()

    def at(self, time_us: int, deed: Callable[[], None]) -> None:
        """Schedules ``deed`` for virtual time ``time_us``; deeds of one time happen in the order scheduled."""
        heapq.heappush(self._agenda, (time_us, next(self._order), deed))

    def press(self, train: Iterable[tuple[int, bool | int]], from_us: int = 0) -> None:
        """Schedules a contact's edges: (microseconds after ``from_us``, closed) pairs."""
        for offset_us, closed in train:
            time_us = from_us + offset_us
            self.at(time_us, lambda t=time_us, c=bool(closed): self.contact.put(wrapped(t), c))  # type: ignore[misc]

    def force_halt(self, train: Iterable[tuple[int, bool | int | None]], from_us: int = 0) -> None:
        """Schedules levels forced on the halt line: (microseconds after ``from_us``, level or None to let go)."""
        for offset_us, level in train:
            forced = None if level is None else bool(level)
            self.at(from_us + offset_us, lambda f=forced: setattr(self.halt_pin, "forced", f))  # type: ignore[misc]

    def run_until(self, time_us: int) -> None:
        """Lets virtual time pass to ``time_us``."""
        while True:
            at_us = self._next_us(time_us)
            if at_us > time_us:
                break
            self.now_us = max(self.now_us, at_us)
            while self._agenda and self._agenda[0][0] <= self.now_us:
                heapq.heappop(self._agenda)[2]()
            self._settle()
        self.now_us = max(self.now_us, time_us)
        self._settle()

    def due_us(self) -> int | None:
        """Virtual time of the next thing that happens by itself; None if nothing will."""
        due_us = self.board.due_us()
        if due_us is not None:
            ahead_us = (due_us - wrapped(self.now_us)) & (_WRAP_US - 1)
            due_us = self.now_us + (ahead_us if ahead_us < _WRAP_US // 2 else 0)
        if self._agenda and (due_us is None or self._agenda[0][0] < due_us):
            return self._agenda[0][0]
        return due_us

    @property
    def moment_us(self) -> float:
        """The virtual time of what happens to the machine now, be it within a burst."""
        return self.line.moment_us if isinstance(self.line, BurstLine) else self.now_us

    @property
    def rising_edges_us(self) -> list[float]:
        """Times of all rising edges on the clock line."""
        return [time_us for time_us, level in self.line.edges if level]

    def _next_us(self, time_us: int) -> int:
        due_us = self.due_us()
        in_burst = isinstance(self.line, BurstLine) and self.line.busy
        if in_burst and due_us is not None:
            # When a burst should end is a guess of the board's.
            due_us = max(due_us, self.now_us + 1)
        nap_us = self.now_us + (_PASS_US if in_burst else _LONGEST_NAP_US)
        if due_us is None or due_us > nap_us:
            return nap_us
        scheduled = bool(self._agenda) and self._agenda[0][0] == due_us
        return due_us if self._lateness is None or scheduled else due_us + self._lateness()

    def _settle(self) -> None:
        """Passes of the loop until nothing more happens at this instant."""
        while True:
            edges = self.line.changes + self.reset_line.changes
            told = self.board.outbox.lines + self.port.taken
            self.board.poll()
            moved = edges != self.line.changes + self.reset_line.changes
            if not moved and told == self.board.outbox.lines + self.port.taken and not self._pressing():
                break
        watched, self._watched = self._watched, self.board.tick_button.telling
        if self._watched and not watched and self.hand is not None:
            self.hand()

    def _before_change(self) -> None:
        """The halt line is about to move: what a burst does until then, it does with the level before."""
        if isinstance(self.line, BurstLine):
            self.line.catch_up()

    def _pressing(self) -> bool:
        return self.port.connected and self.port.waiting > 0 and not self.board.outbox.crowded

    def _now(self) -> int:
        return self.now_us


def _reader(machine: Machine, settings: Settings, chain: ChainOfChips | None) -> Probes | ChainedProbes:
    direct = Probes(machine)
    if chain is None:
        return direct
    return ChainedProbes(direct, _PROBES, chain.load, chain.clock, chain.data, settings.chain)
