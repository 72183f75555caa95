"""A host that reads slowly, or that another one takes the place of: the board has time for everything else."""

from __future__ import annotations

import itertools

import pytest

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board.outbox import Outbox
from handtick_board.rim import Rim
from handtick_board.ring import Ring
from handtick_board.settings import Settings
from handtick_board.usb_port import UsbPort
from handtick_wire import framing
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter

SECONDS = 2
FIFO_BYTES, PACKET_BYTES = 256, 64
# As long as a pass of the loop takes on an RP2040.
PASS_US = 1000


class SlowSerial:
    """Stands in for ``usb_cdc.data``: a write fills what room there is, and waits for more at the host's pace."""

    connected = True

    def __init__(self, bytes_a_second: int) -> None:
        self.write_timeout = 0.0
        self.board: VirtualBoard | None = None
        self.inbox = b""
        self._us_a_packet = PACKET_BYTES * 1_000_000 // bytes_a_second
        self._filled = self._packet_us = 0

    @property
    def in_waiting(self) -> int:
        return len(self.inbox)

    def read(self, most: int) -> bytes:
        data, self.inbox = self.inbox[:most], self.inbox[most:]
        return data

    def write(self, data: bytes) -> int:
        assert self.board is not None
        until_us = self.board.now_us + int(self.write_timeout * 1e6)
        taken = self._put(len(data))
        while taken < len(data) and self.board.now_us < until_us:
            self.board.now_us += 100
            taken += self._put(len(data) - taken)
        return taken

    def _put(self, count: int) -> int:
        assert self.board is not None
        packets = (self.board.now_us - self._packet_us) // self._us_a_packet
        self._packet_us += packets * self._us_a_packet
        self._filled = max(0, self._filled - packets * PACKET_BYTES)
        taken = min(count, FIFO_BYTES - self._filled)
        self._filled += taken
        return taken


class Taker:
    """A port that takes everything."""

    def write(self, data: bytes) -> int:
        return len(data)


class Looped(VirtualBoard):
    """A virtual board whose loop's passes are made here."""

    def _settle(self) -> None:
        pass


def greeted(
    bytes_a_second: int, when_full: str, monkeypatch: pytest.MonkeyPatch, *commands: bytes
) -> tuple[Looped, SlowSerial]:
    """A board with a slow host, which samples every tick and has been sent commands, whose ids go up from 3."""
    serial, settings = SlowSerial(bytes_a_second), Settings()
    settings.when_full = when_full

    def rewired(rim: Rim) -> Rim:
        rim.port, rim.pass_us = UsbPort(serial), 2 * PASS_US
        return rim

    monkeypatch.setattr(VirtualBoard, "rewired", staticmethod(rewired))
    serial.board = board = Looped(Counter(), settings)
    for number, words in enumerate((b"hello 7", b"samples all", *commands), 1):
        serial.inbox += framing.frame_command(number, words)
    return board, serial


def run_for(seconds: int, bytes_a_second: int, when_full: str, monkeypatch: pytest.MonkeyPatch) -> tuple[int, int]:
    """A run at 100 kHz: microseconds of the longest pass, and ticks made."""
    board, _ = greeted(bytes_a_second, when_full, monkeypatch, b"run 100000")
    longest_us, end_us = 0, board.now_us + seconds * 1_000_000
    while board.now_us < end_us:
        began_us = board.now_us
        board.board.poll()
        longest_us = max(longest_us, board.now_us - began_us)
        board.now_us += PASS_US
    return longest_us, board.board.clock.edges


@pytest.mark.parametrize("bytes_a_second", [8_000, 50_000, 200_000])
@pytest.mark.parametrize("when_full", ["pause", "free"])
def test_no_pass_waits_long_for_a_slow_host(
    bytes_a_second: int, when_full: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Buttons, the halt line and commands have their turn, however slowly a block goes out."""
    longest_us, _ = run_for(SECONDS, bytes_a_second, when_full, monkeypatch)
    assert longest_us < 30_000


@pytest.mark.parametrize("bytes_a_second", [8_000, 50_000, 200_000])
def test_clock_that_may_lose_samples_is_not_held_by_a_slow_host(
    bytes_a_second: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """With ``HANDTICK_WHEN_FULL = "free"`` it makes nine tenths of what was asked for."""
    _, ticks = run_for(SECONDS, bytes_a_second, "free", monkeypatch)
    assert ticks > 0.9 * SECONDS * 100_000


@pytest.mark.parametrize("bytes_a_second", [8_000, 50_000])
def test_edges_timed_by_the_loop_are_not_late_for_a_slow_host(
    bytes_a_second: int, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Phases of 33.3 ms behind samples that wait: none is shorter, and none longer by more than three passes."""
    board, serial = greeted(bytes_a_second, "pause", monkeypatch, b"burst 4000 100000")

    def look() -> int:
        # To look at the time takes time.
        board.now_us += 5
        return board.now_us

    board.board._rim.now_us = board.board.clock._now_us = look
    while board.board.clock.edges < 4000 or not board.board.clock.rested:
        board.board.poll()
        board.now_us += PASS_US
    assert board.board.outbox.waiting > 2000
    serial.inbox += framing.frame_command(4, b"burst 10 15")
    while board.board.clock.edges < 4010 or not board.board.clock.rested:
        board.board.poll()
        board.now_us += PASS_US
    times_us = [at_us for at_us, _ in board.line.edges[8000:]]
    phases_us = [after - before for before, after in itertools.pairwise(times_us)]
    assert len(phases_us) == 19
    assert min(phases_us) >= 33_333
    assert max(phases_us) < 33_333 + 3 * PASS_US + 100


def test_lines_at_once_are_as_few_after_very_many() -> None:
    """The running number goes round after 65,536 lines; what is written at once stays bounded."""
    outbox, port = Outbox(Ring(512)), Taker()
    outbox.open = True
    for _ in range(66_000 // 4):
        for _ in range(4):
            outbox.push(1, 2, 3, 0)
        outbox.pump(port, 4)
    for _ in range(512):
        outbox.push(1, 2, 3, 0)
    outbox.say_now("done", id=1, tick=1, edges=1)
    before = outbox.lines
    assert before == 66_000
    outbox.pump(port, 4)
    assert outbox.lines - before == 4


def test_host_that_goes_while_another_comes_leaves_nothing_behind(monkeypatch: pytest.MonkeyPatch) -> None:
    """A port closed and opened again between two passes: its stop rule and its watch on the button are gone."""

    def rewired(rim: Rim) -> Rim:
        rim.looks = 64
        return rim

    monkeypatch.setattr(VirtualBoard, "rewired", staticmethod(rewired))
    board = VirtualBoard(Counter())
    hearing = Hearing(VirtualLink(board))
    hearing.ask("stop_when", "N1,T=3")
    hearing.ask("contact", "on")
    board.run_until(board.now_us + 1_000_000)
    looks = 0

    class Contact:
        edges = staticmethod(board.contact.edges)

        @property
        def waiting(self) -> bool:
            nonlocal looks
            looks += 1
            if looks == 20:
                board.port.host_close()
            if looks == 40:
                board.port.host_open()
            return False

    board.board._rim.contact = Contact()
    board.board.poll()
    board.board.poll()
    assert looks >= 40
    assert board.board.clock.stop_rule is None
    assert not board.board.tick_button.telling
