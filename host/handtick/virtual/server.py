"""Serves a board that lives on this computer: at the pace of the wall clock, on a pseudo-terminal and a TCP port.

One program at a time, as with a real board: whoever has it open is its host, and when that one goes the board is told.
"""

from __future__ import annotations

import os
import select
import socket
import time
from typing import Protocol

from handtick.errors import HandtickError
from handtick.virtual.pins import Port

# The longest the board's loop waits for a byte or an edge, in seconds.
_NAP_S = 0.01
# How far, and for how long at most, the board's time goes on between two looks at the port.
_TURN_US = 2000
_LONGEST_TURN_S = 0.05


class Served(Protocol):
    """A board that can be served."""

    @property
    def port(self) -> Port:
        """The board's end of its port."""

    @property
    def now_us(self) -> int:
        """Its time."""

    def run_until(self, time_us: int) -> None:
        """Lets its time pass."""

    def due_us(self) -> int | None:
        """When it means to do something by itself."""


class Serving:
    """A board that lives on this computer, and the ways in to it.

    Args:
        board: the board.
        tcp_port: a TCP port on this machine's own address to listen at, 0 for any free one; None for none.

    Attributes:
        port: name of the pseudo-terminal; None where the system has none.
        address: ``socket://...`` of the TCP port; None where none was asked for.
    """

    def __init__(self, board: Served, tcp_port: int | None = None) -> None:
        self._board = board
        self._terminal = _Terminal() if hasattr(os, "openpty") else None
        self.port = self._terminal.name if self._terminal is not None else None
        self._listener: socket.socket | None = None
        self.address: str | None = None
        self._caller: socket.socket | None = None
        self._unsent = b""
        if tcp_port is not None:
            self._listen(tcp_port)
        self._offset_us = board.now_us - time.monotonic_ns() // 1000

    def _listen(self, tcp_port: int) -> None:
        try:
            self._listener = socket.create_server(("127.0.0.1", tcp_port), backlog=1)
        except OSError as error:
            raise HandtickError(
                f"TCP port {tcp_port} can't be listened at: {error.strerror}; choose another"
            ) from error
        self._listener.setblocking(False)
        self.address = f"socket://127.0.0.1:{self._listener.getsockname()[1]}"

    def run(self) -> None:
        """Serves until interrupted."""
        while True:
            self.serve_once(_NAP_S)

    def serve_once(self, nap_s: float) -> None:
        """Waits up to ``nap_s`` for bytes, lets the board's time pass to now, and hands its bytes on."""
        readable = self._wait(self._nap(nap_s))
        self._pass_time()
        if self._listener in readable:
            self._answer_caller()
        data = self._arrived(readable)
        if data:
            self._board.port.host_write(data)
            self._pass_time()
        self._hand_on()

    def close(self) -> None:
        """Gives everything back."""
        for way in (self._terminal, self._listener, self._caller):
            if way is not None:
                way.close()

    def _wait(self, nap_s: float) -> list[object]:
        """The ways in that have something, once one has or the nap is over."""
        ways: list[_Terminal | socket.socket] = [way for way in (self._listener, self._caller) if way is not None]
        terminal = self._terminal
        if terminal is not None and terminal.opened and self._caller is None:
            # A terminal that nobody has open would always look as if it had something.
            ways.append(terminal)
        if not ways:
            time.sleep(nap_s)
            return []
        return list(select.select(ways, [], [], nap_s)[0])

    def _nap(self, nap_s: float) -> float:
        if self._unsent or self._board.port.full:
            return min(nap_s, 0.001)
        due_us = self._board.due_us()
        if due_us is None:
            return nap_s
        return min(nap_s, max(0.0, (due_us - self._now_us()) / 1e6))

    def _pass_time(self) -> None:
        """Lets the board's time catch up with the wall clock's, or as far as it gets before somebody is kept waiting:
        ticks that are asked for faster than this computer can make them take longer than they should."""
        board, until_us = self._board, self._now_us()
        enough = time.monotonic() + _LONGEST_TURN_S
        board.run_until(min(until_us, board.now_us + _TURN_US))
        while board.now_us < until_us and time.monotonic() < enough:
            board.run_until(min(until_us, board.now_us + _TURN_US))
        self._offset_us -= max(0, until_us - board.now_us)

    def _now_us(self) -> int:
        return time.monotonic_ns() // 1000 + self._offset_us

    def _answer_caller(self) -> None:
        assert self._listener is not None
        try:
            caller, _ = self._listener.accept()
        except OSError:
            # Gone before they were answered.
            return
        if self._caller is not None or (self._terminal is not None and self._terminal.opened):
            # As with a port that another program holds: nobody shares a clock by accident.
            caller.close()
            return
        try:
            caller.setblocking(False)
            caller.setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
        except OSError:
            # Some systems take no setting for a connection whose other end is gone.
            caller.close()
            return
        self._caller = caller
        self._board.port.host_open()

    def _arrived(self, readable: list[object]) -> bytes:
        if self._caller is not None and self._caller in readable:
            return self._from_caller()
        if self._terminal is not None and self._caller is None:
            was_open = self._terminal.opened
            data = self._terminal.read()
            if self._terminal.opened and not was_open:
                self._board.port.host_open()
            elif was_open and not self._terminal.opened:
                self._host_gone()
            return data
        return b""

    def _from_caller(self) -> bytes:
        assert self._caller is not None
        try:
            data = self._caller.recv(4096)
        except BlockingIOError:
            return b""
        except OSError:
            data = b""
        if not data:
            self._caller.close()
            self._caller = None
            self._host_gone()
        return data

    def _host_gone(self) -> None:
        self._unsent = b""
        self._board.port.host_close()
        self._pass_time()

    def _hand_on(self) -> None:
        self._unsent = self._unsent or self._board.port.host_read()
        if not self._unsent:
            return
        if self._caller is not None:
            try:
                self._unsent = self._unsent[self._caller.send(self._unsent) :]
            except BlockingIOError:
                pass
            except OSError:
                self._caller.close()
                self._caller = None
                self._host_gone()
        elif self._terminal is not None:
            self._unsent = self._unsent[self._terminal.write(self._unsent) :]


class _Terminal:
    """The board's end of a pseudo-terminal."""

    def __init__(self) -> None:
        import tty

        self._board_end, program_end = os.openpty()
        tty.setraw(program_end)
        self.name = os.ttyname(program_end)
        self.opened = False
        os.set_blocking(self._board_end, False)
        # With nobody at the other end, reading the board's end fails: that is how it is known whether somebody is.
        os.close(program_end)

    def fileno(self) -> int:
        """For ``select``."""
        return self._board_end

    def read(self) -> bytes:
        """What has arrived; notes whether a program has the port open."""
        try:
            data = os.read(self._board_end, 4096)
        except BlockingIOError:
            self.opened = True
            return b""
        except OSError:
            self.opened = False
            return b""
        self.opened = True
        return data

    def write(self, data: bytes) -> int:
        """Sends what fits."""
        try:
            return os.write(self._board_end, data)
        except OSError:
            return 0

    def close(self) -> None:
        """Gives it back."""
        os.close(self._board_end)
