"""A contact that moves more often than its stamps have room for, on the real CircuitPython, on an emulated board."""

from __future__ import annotations

import pytest

from handtick.bench import Bench
from tests.emulated.emulated_board import EmulatedBoard

pytestmark = pytest.mark.needs_image


@pytest.mark.parametrize("ends_closed", [False, True])
def test_button_works_again_after_more_edges_than_there_is_room_for(board: EmulatedBoard, ends_closed: bool) -> None:
    """Three hundred edges in a millisecond make no tick, whether the contact is open or closed after them; once it has
    opened, every press is one."""
    board.set_open(True)
    bench = Bench(board)
    bench.open()
    for number in range(3):
        before = len(board.rising_ns)
        train = [(3 * edge + number, edge % 2 == 0) for edge in range(301 if ends_closed else 300)]
        board.press([*train, (60_000, 0)], 0.002)
        bench.listen(0.001)
        board.run(0.15)
        assert len(board.rising_ns) == before
        board.press([(0, 1), (30_000, 0)], 0.002)
        bench.listen(0.001)
        board.run(0.1)
        assert len(board.rising_ns) == before + 1
    status = bench.status().fields
    assert status["spikes"] > 0
    assert status["edges"] == len(board.rising_ns)
    assert "Traceback" not in board.console
