"""Simulated pins: what the firmware drives and reads when there is no board, with every edge recorded."""

from __future__ import annotations

from collections.abc import Callable
from typing import Protocol


class Machine(Protocol):
    """What hangs on the clock line."""

    def set_clock(self, level: bool) -> None:
        """The clock line has this level from now on."""

    def set_reset(self, asserted: bool) -> None:
        """The reset line has this state from now on."""

    def set_pull(self, way: str) -> None:
        """The board pulls every probe weakly "up", "down" or not at all ("none") from now on."""

    def probes(self) -> int:
        """All probed lines now, bit k = probe k."""

    @property
    def halted(self) -> bool:
        """The machine's halt line."""


class Supply(Protocol):
    """The machine's supply as the board senses it."""

    def read_mv(self) -> int:
        """Millivolts now."""
        ...


class OutputPin:
    """A driven line: tells whoever listens, and keeps its edges.

    Attributes:
        changes: how many edges it has made.
    """

    def __init__(
        self, level: bool, now_us: Callable[[], float], listener: Callable[[bool], None] | None = None
    ) -> None:
        self.changes = 0
        self._edges: list[tuple[float, bool]] = []
        self._level = level
        self._now_us = now_us
        self._listener = listener

    @property
    def edges(self) -> list[tuple[float, bool]]:
        """(time in microseconds, level) of every change since the start, in order."""
        return self._edges

    @property
    def value(self) -> bool:
        """The level; setting the level it already has is no edge."""
        return self._level

    @value.setter
    def value(self, level: bool) -> None:
        if level == self._level:
            return
        self._level = level
        self.changes += 1
        self._edges.append((self._now_us(), level))
        if self._listener is not None:
            self._listener(level)


class FarEnd:
    """Counts the rising edges that arrive at the machine's end of the clock wire.

    Args:
        line: the clock line, at its rest level.
        machine: the machine; where it has ``rung``, that is how many edges arrived that nobody sent, less those that
            were sent and did not arrive.
    """

    def __init__(self, line: OutputPin, machine: Machine) -> None:
        self._line = line
        self._machine = machine
        self._rests_low = not line.value

    def read(self) -> int:
        """Edges that have arrived; the clock must be at rest."""
        return (self._line.changes + self._rests_low) // 2 + int(getattr(self._machine, "rung", 0))


class HaltPin:
    """The halt line as the board sees it: the machine's own, or a level somebody forces on it.

    Args:
        machine: the machine.
        before_change: called before somebody's level changes.
    """

    def __init__(self, machine: Machine, before_change: Callable[[], None] = lambda: None) -> None:
        self._forced: bool | None = None
        self._machine = machine
        self._before_change = before_change

    @property
    def forced(self) -> bool | None:
        """The level somebody forces on it; None where nobody does."""
        return self._forced

    @forced.setter
    def forced(self, level: bool | None) -> None:
        self._before_change()
        self._forced = level

    @property
    def value(self) -> bool:
        """True while a halt is asked for."""
        return self._machine.halted if self._forced is None else self._forced


class Probes:
    """All probed lines, read at once."""

    disagreed = False

    def __init__(self, machine: Machine) -> None:
        self._machine = machine

    def read(self) -> int:
        """All probes as one number."""
        return self._machine.probes()

    def pull(self, way: str) -> None:
        """The probes' weak pulls."""
        self._machine.set_pull(way)


class Contact:
    """The tick button's contact: edges put in by hand, given to the firmware with their times."""

    def __init__(self) -> None:
        self._edges: list[tuple[int, bool]] = [(0, False)]

    def put(self, board_us: int, closed: bool) -> None:
        """The contact has this level from board time ``board_us`` on."""
        self._edges.append((board_us, closed))

    @property
    def waiting(self) -> bool:
        """Whether anything has happened since."""
        return bool(self._edges)

    def edges(self, now_us: int) -> list[tuple[int, bool]]:
        """What has happened since the last call."""
        edges, self._edges = self._edges, []
        return edges


class Port:
    """The board's end of a serial port whose host reads when it likes.

    Args:
        room: bytes the port takes before the host must read, as a USB port does.

    Attributes:
        connected: whether a host has the port open.
        taken: bytes that the board has sent so far.
    """

    def __init__(self, room: int = 4096) -> None:
        self.connected = False
        self.taken = 0
        self._room = room
        self._to_board = bytearray()
        self._to_host = bytearray()

    def read(self) -> bytes:
        """Board: what the host has sent."""
        data = bytes(self._to_board[:256])
        del self._to_board[:256]
        return data

    def write(self, data: bytes) -> int:
        """Board: sends as much as there is room for; returns how much that was."""
        taken = min(len(data), self._room - len(self._to_host))
        self._to_host += data[:taken]
        self.taken += taken
        return taken

    @property
    def waiting(self) -> int:
        """Board: bytes it has not read yet."""
        return len(self._to_board)

    @property
    def full(self) -> bool:
        """Whether the host must read before the board can send on."""
        return len(self._to_host) >= self._room

    def host_open(self) -> None:
        """Host: opens the port."""
        self.connected = True

    def host_close(self) -> None:
        """Host: closes the port; what is on its way is lost, as on a real one."""
        self.connected = False
        self._to_board.clear()
        self._to_host.clear()

    def host_write(self, data: bytes) -> None:
        """Host: sends."""
        self._to_board += data

    def host_read(self) -> bytes:
        """Host: takes what has arrived."""
        data = bytes(self._to_host)
        self._to_host.clear()
        return data
