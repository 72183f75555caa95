"""Where one burst ends and the next begins, and bursts that last for minutes."""

from __future__ import annotations

import pytest

from handtick.links.virtual import VirtualLink
from handtick.session import Session
from handtick.virtual.board import VirtualBoard
from handtick_board.board import Rim
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter, StillMachine


class Halting(Counter):
    """A counter that asks for a halt from a count on, as a halt instruction does."""

    def __init__(self, at: int) -> None:
        super().__init__()
        self.at = at

    @property
    def halted(self) -> bool:  # type: ignore[override]
        """Whether it has come that far."""
        return self.count >= self.at


class ByPasses(VirtualBoard):
    """A board whose passes are made by hand."""

    def _settle(self) -> None:
        """Nothing happens by itself."""


class SlowPort:
    """A port at which it takes 300 microseconds to look."""

    def __init__(self, board: VirtualBoard) -> None:
        self._board = board

    def __getattr__(self, name: str) -> object:
        return getattr(self._board.port, name)

    @property
    def waiting(self) -> int:
        """Bytes that have arrived, 300 microseconds later."""
        self._board.now_us += 300
        return self._board.port.waiting


@pytest.mark.parametrize("at", [2046, 2047, 2048, 2049, 2050, 3000])
def test_a_machine_that_halts_in_the_last_tick_of_a_burst_gets_no_other(at: int) -> None:
    """It is halted after exactly the tick in which it asked for it, however late the loop looks."""
    machine = Halting(at)
    board = ByPasses(machine)
    VirtualLink(board)
    session = Session(1)
    board.board._rim.port = SlowPort(board)
    for _, line in (session.greet(), session.command("samples", "all"), session.command("run", "1000000")):
        board.port.host_write(line)
    for _ in range(400):
        board.board.poll()
        board.now_us += 20
        board.port.host_read()
    assert machine.count == at


@pytest.mark.parametrize("at_us", [12_500, 49_500])
def test_a_pulse_of_the_halt_line_over_a_boundary_halts_wherever_that_is(at_us: int) -> None:
    """Be it within a burst, or the boundary at which a burst of fifty ticks ends."""
    board = VirtualBoard(Counter(), lateness=lambda: 1500)
    hearing = Hearing(VirtualLink(board))
    hearing.send("run", "1000")
    began_us = board.board.clock._began_us  # type: ignore[union-attr]
    board.force_halt([(at_us, 1), (at_us + 1000, 0)], began_us)
    board.run_until(began_us + 500_000)
    assert board.board.clock.tick == at_us // 1000 + 1


class Watched(ByPasses):
    """Every look at the time takes 50 microseconds."""

    @staticmethod
    def rewired(rim: Rim) -> Rim:
        """A pass takes two milliseconds."""
        rim.pass_us = 2000
        return rim


def test_a_pass_is_short_however_long_a_burst_lasts() -> None:
    """The loop does not wait for a burst that was to be looked after long ago; the edge count goes on."""
    board = Watched(StillMachine())
    VirtualLink(board)
    session = Session(1)
    for _, line in (session.greet(), session.command("samples", "last"), session.command("run", "101000")):
        board.port.host_write(line)
    board.board.poll()
    board.board.poll()
    began_us = board.now_us

    def look() -> int:
        board.now_us += 50
        return board.now_us & 0x3FFFFFFF

    board.board._rim.now_us = look
    board.board.clock._now_us = look
    for at_s in (1, 66, 68, 136):
        board.now_us = began_us + at_s * 1_000_000
        board.board.poll()
        assert board.now_us - began_us - at_s * 1_000_000 < 1000
        told = board.board.clock.edges_at(look())
        assert told == pytest.approx((board.now_us - began_us) * 0.101, rel=1e-3)
