"""The USB port: a host that reads is waited for, one that does not is not."""

from __future__ import annotations

from handtick_board.usb_port import UsbPort


class Serial:
    """Stands in for ``usb_cdc.data``.

    Attributes:
        room: bytes it takes.
        waited: the write timeout at each write.
    """

    connected = True
    in_waiting = 0

    def __init__(self) -> None:
        self.write_timeout: float | None = None
        self.room = 1000
        self.waited: list[float | None] = []

    def write(self, data: bytes) -> int:
        self.waited.append(self.write_timeout)
        taken = min(self.room, len(data))
        self.room -= taken
        return taken


def test_a_write_never_waits_for_ever() -> None:
    """Whatever the host does, no write is without a limit."""
    serial = Serial()
    port = UsbPort(serial)
    for _ in range(5):
        port.write(bytes(400))
    assert all(limit is not None for limit in serial.waited)


def test_only_a_host_that_keeps_up_is_waited_for_longer() -> None:
    """Much at once may take its time where the host takes a kilobyte in four milliseconds; otherwise it may not."""
    serial = Serial()
    port = UsbPort(serial)
    for room in (4096, 900, 500, 600, 4096):
        serial.room = room
        port.write(bytes(4096))
    longer, patience = 0.008, 0.002
    assert serial.waited == [longer, longer, patience, patience, longer]
    port.write(bytes(100))
    assert serial.waited[-1] == patience


def test_a_host_that_does_not_read_is_waited_for_once() -> None:
    """The write that meets a full port waits; those after it come back at once, until the host reads again."""
    serial = Serial()
    port = UsbPort(serial)
    assert [port.write(bytes(400)) for _ in range(5)] == [400, 400, 200, 0, 0]
    patience = serial.waited[0]
    assert patience is not None
    assert patience > 0
    assert serial.waited == [patience] * 4 + [0]
    serial.room = 1000
    assert [port.write(bytes(400)) for _ in range(2)] == [400, 400]
    assert serial.waited[5:] == [0, patience]
