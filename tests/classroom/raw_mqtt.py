"""MQTT 5 packets by hand, for what a client library never does on purpose."""

from __future__ import annotations

import contextlib
import socket
import struct
import threading
from typing import Self

_CONNECT, _PUBLISH_QOS_1, _DUPLICATE = 0x10, 0x32, 0x08
_CONNACK, _SUBACK, _NOT_AUTHORIZED = 0x20, 0x90, 0x87
_CLEAN_START = 0x02
_MESSAGE_EXPIRY_INTERVAL = 0x02


def publish_again_as_duplicate(port: int, topic: str, payload: bytes) -> None:
    """Publishes a message at QoS 1 and, its acknowledgement not heeded, once more as a duplicate (MQTT 5, 3.3.1.1)."""
    properties = struct.pack(">BI", _MESSAGE_EXPIRY_INTERVAL, 5)
    publish = _text(topic) + struct.pack(">H", 7) + bytes([len(properties)]) + properties + payload
    connect = _text("MQTT") + struct.pack(">BBHB", 5, _CLEAN_START, 60, 0) + _text("by-hand")
    with socket.create_connection(("127.0.0.1", port), timeout=10) as broker:
        broker.sendall(_packet(_CONNECT, connect))
        assert broker.recv(64)[0] == 0x20, "no CONNACK"
        broker.sendall(_packet(_PUBLISH_QOS_1, publish))
        assert broker.recv(64)[0] == 0x40, "no PUBACK"
        broker.sendall(_packet(_PUBLISH_QOS_1 | _DUPLICATE, publish))
        assert broker.recv(64)[0] == 0x40, "no PUBACK"


class RefusingBroker:
    """A broker that lets everybody in and nobody read anything (MQTT 5, 3.9.3: not authorized)."""

    def __init__(self) -> None:
        self._listener = socket.create_server(("127.0.0.1", 0))
        self.port = int(self._listener.getsockname()[1])
        self._thread = threading.Thread(target=self._serve)

    def __enter__(self) -> Self:
        self._thread.start()
        return self

    def __exit__(self, *_: object) -> None:
        self._listener.shutdown(socket.SHUT_RDWR)
        self._listener.close()
        self._thread.join()

    def _serve(self) -> None:
        while True:
            try:
                client, _ = self._listener.accept()
            except OSError:
                return
            with client, contextlib.suppress(OSError):
                client.settimeout(10)
                client.recv(4096)
                client.sendall(bytes([_CONNACK, 3, 0, 0, 0]))
                number = client.recv(4096)[2:4]
                client.sendall(bytes([_SUBACK, 4, *number, 0, _NOT_AUTHORIZED]))
                client.recv(4096)


def _packet(kind: int, body: bytes) -> bytes:
    length, left = bytearray(), len(body)
    while True:
        left, digit = divmod(left, 128)
        length.append(digit | (0x80 if left else 0))
        if not left:
            return bytes([kind]) + bytes(length) + body


def _text(text: str) -> bytes:
    return struct.pack(">H", len(text)) + text.encode()
