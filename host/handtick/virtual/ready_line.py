"""A simulated ready line, which meets the edges of the clock as the PIO program of a real board does."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol, TypeGuard

from handtick.virtual.pins import Machine, OutputPin


class WithReady(Machine, Protocol):
    """A machine that can be held."""

    def set_ready(self, ready: bool) -> None:
        """The ready line has this state from now on."""


def has_ready(machine: Machine) -> TypeGuard[WithReady]:
    """Whether a machine can be held. Python's own check of a protocol would load ``inspect``, from 3.12 on."""
    return hasattr(machine, "set_ready")


class ReadyLine:
    """Stands between the clock line and a machine, and holds it.

    Args:
        machine: the machine.
        after_falling: whether the ready line changes after the falling edge of the clock.
        now_us: gives the time.

    Attributes:
        pin: the ready line, True while the machine is to be ready, with all its edges.
        busy: whether it waits for an edge.
    """

    def __init__(self, machine: WithReady, after_falling: bool, now_us: Callable[[], float]) -> None:
        self.busy = False
        self.pin = OutputPin(True, now_us, machine.set_ready)
        self._machine = machine
        self._after_falling = after_falling
        self._ignored: tuple[int, bool] | None = None
        self._raises = self._stays = False
        self._passed = -1

    def make(self, ready_high: bool, probe: int | None, ignored_high: bool) -> ReadyLine:
        """See ``ReadySteps``; the level is left to the machine."""
        self._ignored = None if probe is None else (probe, ignored_high)
        return self

    def set_clock(self, level: bool) -> None:
        """The clock line has this level from now on."""
        self._machine.set_clock(level)
        if self.busy and level != self._after_falling:
            self._edge()

    def step(self) -> None:
        """See ``PioReady``."""
        self._send_off(raises=True)

    def hold(self) -> None:
        """See ``PioReady``."""
        self._send_off()

    def hold_now(self) -> None:
        """See ``PioReady``."""
        self.pin.value = False

    def let_go(self) -> None:
        """See ``PioReady``."""
        self._send_off(raises=True, stays=True)

    def give_up(self) -> None:
        """See ``PioReady``."""
        self.busy = False
        self.pin.value = True

    def passed(self) -> int:
        """See ``PioReady``."""
        return self._passed

    def close(self) -> None:
        """See ``PioReady``."""

    def _send_off(self, raises: bool = False, stays: bool = False) -> None:
        self.busy = True
        self._raises, self._stays = raises, stays
        self._passed = -1

    def _edge(self) -> None:
        if self._raises:
            self._raises = False
            self.pin.value = True
            self.busy = not self._stays
            return
        self.pin.value = False
        self._passed += 1
        if self._ignored is None:
            self.busy = False
        else:
            probe, high = self._ignored
            self.busy = bool(self._machine.probes() >> probe & 1) == high
