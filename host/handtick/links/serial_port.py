"""A link over a serial port, a pseudo-terminal or a TCP socket, through pyserial."""

from __future__ import annotations

import contextlib
import re
import socket
from pathlib import Path
from typing import Any

import serial

from handtick.errors import LinkLost, NoBoard
from handtick.links.refusals import check_address, why_closed

# A board that takes nothing for so long is not there any more.
_WRITE_S = 2.0
# What pyserial raises when a board is gone; the last three where the port was closed under it.
_GONE = (serial.SerialException, OSError, TypeError, AttributeError, ValueError)
# A pseudo-terminal outlives the program that had it, and so does what that one told the system about it.
_PSEUDO = re.compile(r"/dev/(pts/|ttys\d)")


class SerialLink:
    """One port, held for this program alone.

    Args:
        name: a port such as ``/dev/ttyACM1`` or ``COM4``, or ``socket://host:port``.

    Raises:
        UsageError: the address is not whole.
        NoBoard: the port is not there, belongs to another program, or may not be opened.
    """

    def __init__(self, name: str) -> None:
        self._name = name
        if name.startswith("socket://"):
            check_address(name)
        try:
            if name.startswith("socket://"):
                self._port = serial.serial_for_url(name, timeout=0, write_timeout=_WRITE_S)
                # A command is short and waited for: it is not to be kept back until more comes.
                _socket(self._port).setsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)
            else:
                self._port = serial.Serial(name, timeout=0, write_timeout=_WRITE_S, exclusive=True)
        except (serial.SerialException, OSError, ValueError) as error:
            raise NoBoard(why_closed(name, error)) from error
        if not name.startswith("socket://"):
            _hold(self._port, True)
            with contextlib.suppress(serial.SerialException, OSError):
                self._port.dtr = True

    @property
    def name(self) -> str:
        """See ``Link.name``."""
        return self._name

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``."""
        port = self._port
        try:
            port.timeout = timeout_s
            data: bytes = port.read(1)
            if data:
                port.timeout = 0
                more: bytes = port.read(65536)
                data += more
        except _GONE as error:
            raise LinkLost(f"{self._name}: the board is gone; is it still plugged in?") from error
        return data

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""
        try:
            self._port.write(data)
        except serial.SerialTimeoutException as error:
            raise LinkLost(f"{self._name}: the board has taken nothing for {_WRITE_S:g} s") from error
        except _GONE as error:
            raise LinkLost(f"{self._name}: the board is gone; is it still plugged in?") from error

    def close(self) -> None:
        """See ``Link.close``."""
        # pyserial leaves a socket open whose other end went first.
        way = _socket(self._port)
        if way is None:
            _hold(self._port, False)
        with contextlib.suppress(serial.SerialException, OSError):
            self._port.close()
        if way is not None:
            way.close()


def _socket(port: serial.Serial) -> Any:
    """The socket that a port is made of; None for any other port, and for one that is closed."""
    return getattr(port, "_socket", None)


def _hold(port: serial.Serial, held: bool) -> None:
    """Tells the system to keep the port for this program, where it can.

    pyserial's own lock keeps out only programs that ask for one too. A pseudo-terminal is left to that lock: a program
    that was killed would keep it from everybody for as long as it lives.
    """
    if _PSEUDO.match(str(Path(str(port.name)).resolve())):
        return
    try:
        import fcntl
        import termios

        fcntl.ioctl(port.fileno(), termios.TIOCEXCL if held else termios.TIOCNXCL)
    except (ImportError, AttributeError, OSError, serial.SerialException):
        # Not such a system, or the port is gone.
        return
