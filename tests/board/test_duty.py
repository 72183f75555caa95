"""The high share of a period: as asked while its host is there, and then as the settings have it."""

from __future__ import annotations

import pytest

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from tests.board.hearing import Hearing
from tests.board.still_machine import StillMachine

pytestmark = pytest.mark.usefixtures("on_pins")


def high_us(board: VirtualBoard) -> float:
    """How long the latest high phase was."""
    times = [time_us for time_us, _ in board.line.edges]
    return times[-1] - times[-2]


def test_duty_of_one_host_is_not_that_of_the_next() -> None:
    """A share that was tried does not stay behind."""
    board = VirtualBoard(StillMachine())
    link = VirtualLink(board)
    hearing = Hearing(link)
    hearing.ask("burst", 2, "100")
    as_set = high_us(board)
    hearing.ask("duty", 20)
    hearing.ask("burst", 2, "100")
    assert high_us(board) == pytest.approx(2000, abs=50)
    link.close()
    Hearing(VirtualLink(board), 2).ask("burst", 2, "100")
    assert high_us(board) == pytest.approx(as_set, abs=50)
    assert as_set == pytest.approx(5000, abs=50)
