"""Both ends of every kind of link, for a suite that all of them pass."""

from __future__ import annotations

import contextlib
import os
import socket
import time
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Protocol

from handtick.errors import LinkLost
from handtick.links.base import Link
from handtick.links.serial_port import SerialLink
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick.virtual.pins import Port
from tests.board.still_machine import StillMachine

_PATIENCE_S = 10.0


class Far(Protocol):
    """The board's end."""

    def say(self, data: bytes) -> None:
        """Sends."""

    def heard(self, count: int) -> bytes:
        """What has arrived, once so many bytes have, or never do."""

    def go(self) -> None:
        """Goes away."""


@dataclass
class Ends:
    """A link and the other end of it."""

    link: Link
    far: Far


class Recording:
    """A link that replays what a board once said: what is sent to it goes nowhere, and after the last byte it is gone.

    Args:
        said: the bytes.
    """

    name = "recording"

    def __init__(self, said: bytes = b"") -> None:
        self.ended = False
        self.said = said
        self.taken = b""
        self._closed = False

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``."""
        if self._closed or (self.ended and not self.said):
            raise LinkLost(f"{self.name}: it ends here")
        if not self.said:
            time.sleep(timeout_s)
        data, self.said = self.said[:65536], self.said[65536:]
        return data

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""
        if self._closed or self.ended:
            raise LinkLost(f"{self.name}: it ends here")
        self.taken += data

    def close(self) -> None:
        """See ``Link.close``."""
        self._closed = True


class _RecordingEnd:
    def __init__(self, link: Recording) -> None:
        self._link = link

    def say(self, data: bytes) -> None:
        self._link.said += data

    def heard(self, count: int) -> bytes:
        return self._link.taken

    def go(self) -> None:
        self._link.ended = True


class _DescriptorEnd:
    """The far end of a pseudo-terminal or a socket."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor
        self._heard = b""
        self._open = True
        os.set_blocking(descriptor, False)

    def say(self, data: bytes) -> None:
        while data:
            with contextlib.suppress(BlockingIOError):
                data = data[os.write(self._descriptor, data) :]

    def heard(self, count: int) -> bytes:
        until = time.monotonic() + _PATIENCE_S
        while len(self._heard) < count and time.monotonic() < until:
            self._hear()
            time.sleep(0.001)
        # What came twice would be there by now.
        self._hear()
        return self._heard

    def _hear(self) -> None:
        with contextlib.suppress(BlockingIOError):
            self._heard += os.read(self._descriptor, 65536)

    def go(self) -> None:
        if self._open:
            self._open = False
            os.close(self._descriptor)


class _Deaf(VirtualBoard):
    """A virtual board whose firmware is not running: only its port is there."""

    def __init__(self) -> None:
        super().__init__(StillMachine())
        self.port = Port(1 << 20)

    def run_until(self, time_us: int) -> None:
        """Lets virtual time pass."""
        self.now_us = max(self.now_us, time_us)

    def due_us(self) -> int | None:
        """Nothing happens by itself."""
        return None


class _VirtualEnd:
    def __init__(self, board: _Deaf) -> None:
        self._port = board.port
        self._heard = b""

    def say(self, data: bytes) -> None:
        assert self._port.write(data) == len(data)

    def heard(self, count: int) -> bytes:
        while self._port.waiting:
            self._heard += self._port.read()
        return self._heard

    def go(self) -> None:
        """A board in this very process can't go."""


@contextlib.contextmanager
def ends_of(kind: str) -> Iterator[Ends]:
    """A link of a kind: "memory", "pseudo-terminal", "TCP" or "recording"."""
    if kind == "memory":
        board = _Deaf()
        yield Ends(VirtualLink(board), _VirtualEnd(board))
    elif kind == "recording":
        recording = Recording()
        yield Ends(recording, _RecordingEnd(recording))
    elif kind == "TCP":
        yield from _over_tcp()
    else:
        yield from _over_terminal()


def _over_tcp() -> Iterator[Ends]:
    with socket.create_server(("127.0.0.1", 0)) as server:
        link = SerialLink(f"socket://127.0.0.1:{server.getsockname()[1]}")
        caller, _ = server.accept()
        far = _DescriptorEnd(caller.detach())
        try:
            yield Ends(link, far)
        finally:
            link.close()
            far.go()


def _over_terminal() -> Iterator[Ends]:
    import tty

    near, other = os.openpty()
    tty.setraw(other)
    link = SerialLink(os.ttyname(other))
    os.close(other)
    far = _DescriptorEnd(near)
    try:
        yield Ends(link, far)
    finally:
        link.close()
        far.go()
