"""Pins of one's own, where the loop times the clock, on the real CircuitPython, on an emulated board."""

from __future__ import annotations

import pytest

from handtick.bench import Bench
from tests.emulated.conftest import firmware_files, image
from tests.emulated.emulated_board import EmulatedBoard

pytestmark = pytest.mark.needs_image

# Probes in another order than the clock's PIO program reads them, and a ring of the greatest length.
SETTINGS = b"""
HANDTICK_PROFILE = "own"
HANDTICK_PIN_CLOCK = "GP16"
HANDTICK_PIN_RESET = "GP18"
HANDTICK_PIN_INVERSE_CLOCK = "GP21"
HANDTICK_PIN_TICK_BUTTON = "GP20"
HANDTICK_PIN_PROBES = "GP1 GP0 GP2 GP3"
HANDTICK_RING = 8192
"""


def test_a_ring_longer_than_memory_is_refused_and_one_that_fits_is_used() -> None:
    """The board starts, says so, and tells every tick that waited while the host did not read."""
    board = EmulatedBoard(image(), {**firmware_files(), "settings.toml": SETTINGS})
    board.run_until(lambda: " bytes" in board.console, 20)
    assert "refused: HANDTICK_RING too-little-memory" in board.console
    assert "refused: pins inverse_clock" in board.console
    bench = Bench(board)
    greeting = bench.open()
    assert greeting.fields["engine"] == "software"
    ring = greeting.fields["ring"]
    assert isinstance(ring, int)
    assert 2048 <= ring < 8192
    made = 300
    bench.send("burst", made, "1000")
    board.set_reading(False)
    board.run_until(lambda: len(board.rising_ns) >= made, 10)
    board.run(0.05)
    board.set_reading(True)
    # Those that waited come first.
    assert [tick.tick for tick in bench.burst(3, "1000")] == list(range(1, made + 4))
    assert bench.status().fields["lost"] == 0
    assert "Traceback" not in board.console
