"""The host's port on USB: reads what is there, writes what fits, never waits."""

from __future__ import annotations

_MOST_AT_ONCE = 256


class UsbPort:
    """A ``usb_cdc`` serial port.

    Args:
        serial: ``usb_cdc.data``, or ``usb_cdc.console`` where there is no second port.
    """

    def __init__(self, serial) -> None:
        self._serial = serial
        # Without this a write waits for ever on a host that has the port open and does not read.
        serial.write_timeout = 0

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
        return self._serial.read(min(self._serial.in_waiting, _MOST_AT_ONCE)) or b""

    def write(self, data: bytes) -> int:
        """Sends what fits now and returns how many bytes that was."""
        return self._serial.write(data) or 0


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
