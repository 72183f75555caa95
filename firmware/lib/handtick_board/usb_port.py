"""The host's port on USB: reads what is there, and writes for as long as a host reads."""

from __future__ import annotations

_MOST_READ = 256
# A kilobyte takes about two milliseconds. A host that takes less than half of that is not waited for any longer.
_PATIENCE_S = 0.002
_FOR_MORE_S = 0.008
_MUCH = 1024
_KEEPING_UP = 256_000


class UsbPort:
    """A ``usb_cdc`` serial port.

    Args:
        serial: ``usb_cdc.data``, or ``usb_cdc.console`` where there is no second port.
    """

    def __init__(self, serial) -> None:
        self._serial = serial
        # Without a limit a write waits for ever on a host that has the port open and does not read. To wait for one
        # that does is half as fast again as to come back with the rest.
        self._waits = self._keeps_up = True
        self._patience_s = serial.write_timeout = _PATIENCE_S

    @property
    def connected(self) -> bool:
        """Whether a host has the port open (it asserts DTR)."""
        return self._serial.connected

    @property
    def waiting(self) -> int:
        """Bytes that have arrived."""
        return self._serial.in_waiting

    def read(self) -> bytes:
        """What has arrived, at most 256 bytes; empty if nothing has."""
        return self._serial.read(min(self._serial.in_waiting, _MOST_READ)) or b""

    def write(self, data) -> int:
        """Sends what the host takes, four kilobytes in about eight milliseconds, and returns how many bytes that was.

        A host that does not read is not waited for again before it does.
        """
        much = len(data) > _MUCH
        patience_s = 0 if not self._waits else _FOR_MORE_S if much and self._keeps_up else _PATIENCE_S
        if patience_s != self._patience_s:
            self._patience_s = self._serial.write_timeout = patience_s
        taken: int = self._serial.write(data) or 0
        self._waits = taken > 0
        if much:
            self._keeps_up = patience_s > 0 and taken >= _KEEPING_UP * patience_s
        return taken


class NoPort:
    """No port at all: the board works by hand."""

    connected = False
    waiting = 0

    def read(self) -> bytes:
        """Nothing ever arrives."""
        return b""

    def write(self, data: bytes) -> int:
        """Nothing is ever taken."""
        return 0
