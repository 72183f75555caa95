"""Guards the server's connections: nobody holds one without taking part, sends without end, or leaves without reading.

uvicorn waits for as long as a connection pleases: for its request, for the rest of it, and for what it was sent to be
read. Here each of these ends.
"""

from __future__ import annotations

import asyncio
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol
from uvicorn.protocols.websockets.websockets_sansio_impl import WebSocketsSansIOProtocol

from handtick.classroom.meter import Meter

#: Seconds in which a connection must have asked for all it wants and taken the answers, unless it becomes a socket.
PAGE_S = 30.0
#: Connections of one address that have not joined.
MOST_STRANGERS = 200
#: Bytes that a connection may send at once, and a second after that: headers and pongs and all.
BYTES_AT_ONCE = 65_536
BYTES_A_SECOND = 16_384.0
#: Seconds after which a connection that was ended is cut off, whether it has read what it was sent or not.
LAST_WORDS_S = 5.0
_LOOK_S = 1.0

_Address = tuple[str, int]


class Doorstep:
    """Counts the connections that have not joined, by where they come from."""

    def __init__(self, most: int = MOST_STRANGERS) -> None:
        self._most = most
        self._strangers: dict[str, set[int]] = {}

    def strangers(self, host: str) -> int:
        """How many connections from a host have not joined."""
        return len(self._strangers.get(host, ()))

    def comes(self, address: _Address) -> bool:
        """A connection from a host and port; False where there are too many from that host."""
        ports = self._strangers.setdefault(address[0], set())
        if len(ports) >= self._most:
            return False
        ports.add(address[1])
        return True

    def leaves(self, address: _Address) -> None:
        """A connection has joined, or is gone."""
        ports = self._strangers.get(address[0], set())
        ports.discard(address[1])
        if not ports:
            self._strangers.pop(address[0], None)


class PageGuard(H11Protocol):
    """A connection as it begins: it asks for pages, and may become a socket."""

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """See ``asyncio.Protocol``."""
        super().connection_made(transport)
        self._meter = Meter(self.loop.time(), BYTES_AT_ONCE, BYTES_A_SECOND)
        self._until_s = self.loop.time() + PAGE_S
        if self.client is not None and not _doorstep(self).comes(self.client):
            transport.abort()
        self.loop.call_later(_LOOK_S, self._look, None)

    def data_received(self, data: bytes) -> None:
        """See ``asyncio.Protocol``."""
        if self._meter.take(self.loop.time(), len(data)):
            super().data_received(data)
        else:
            self.transport.abort()

    def _look(self, ending_s: float | None) -> None:
        """Looks whether the connection has overstayed; ``ending_s`` is when it was first found to be ending."""
        now_s, transport = self.loop.time(), self.transport
        if transport.get_extra_info("socket").fileno() < 0:
            if self.client is not None:
                _doorstep(self).leaves(self.client)
            return
        if transport.is_closing():
            ending_s = now_s if ending_s is None else ending_s
        overstayed = transport.get_protocol() is self and now_s >= self._until_s
        if overstayed or (ending_s is not None and now_s >= ending_s + LAST_WORDS_S):
            transport.abort()
        self.loop.call_later(_LOOK_S, self._look, ending_s)


class SocketGuard(WebSocketsSansIOProtocol):
    """A connection that has become a socket."""

    def connection_made(self, transport: asyncio.BaseTransport) -> None:
        """See ``asyncio.Protocol``."""
        super().connection_made(transport)
        self._meter = Meter(self.loop.time(), BYTES_AT_ONCE, BYTES_A_SECOND)

    def data_received(self, data: bytes) -> None:
        """See ``asyncio.Protocol``."""
        if self._meter.take(self.loop.time(), len(data)):
            super().data_received(data)
        else:
            self.transport.abort()


def _doorstep(connection: Any) -> Doorstep:
    doorstep: Doorstep = connection.config.app.state.doorstep
    return doorstep
