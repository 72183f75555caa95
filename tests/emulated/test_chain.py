"""Forty probes on a chain, read by the firmware on the real CircuitPython, on an emulated board."""

from __future__ import annotations

import itertools
import re
from typing import Any

import pytest

from handtick.bench import Bench
from handtick.virtual.chain_chips import ChainOfChips
from tests.emulated.conftest import firmware_files, image
from tests.emulated.emulated_board import CLOCK, EmulatedBoard

pytestmark = pytest.mark.needs_image

LOAD, SHIFT, DATA = 17, 27, 28
SETTINGS = b'HANDTICK_PROFILE = "chain"\nHANDTICK_CHAIN = 5\n'
MOST_READING_US = 8000


class Counter:
    """Counts rising edges in forty bits, all of which a chain of five chips shows."""

    def __init__(self, board: EmulatedBoard) -> None:
        self.count = 0xFE_FFFF_FFFD
        self.reading_ns = 0.0
        self._board = board
        self._loaded_ns = 0.0
        self._chain = ChainOfChips(5, lambda: self.count)
        gpio = board._chip.gpio
        self._data = gpio[DATA]
        gpio[CLOCK].add_listener(self._clocked)
        gpio[LOAD].add_listener(self._load)
        gpio[SHIFT].add_listener(self._shift)

    def _clocked(self, new: Any, old: Any) -> None:
        if int(new) == 1 and int(old) != 1:
            self.count += 1

    def _load(self, new: Any, old: Any) -> None:
        self._chain.load.value = int(new) == 1
        self._loaded_ns = self._board.now_ns
        self._show()

    def _shift(self, new: Any, old: Any) -> None:
        self._chain.clock.value = int(new) == 1
        self.reading_ns = max(self.reading_ns, self._board.now_ns - self._loaded_ns)
        self._show()

    def _show(self) -> None:
        self._data.set_input_value(self._chain.data.value)


def test_every_sample_holds_all_forty_and_reading_takes_milliseconds() -> None:
    """Counts beyond thirty and beyond thirty-two bits arrive whole; no phase is short; memory holds."""
    board = EmulatedBoard(image(), {**firmware_files(), "settings.toml": SETTINGS})
    machine = Counter(board)
    board.run_until(lambda: " bytes" in board.console, 20)
    heap = re.search(r"heap free (\d+) bytes", board.console)
    assert heap is not None
    assert int(heap[1]) >= 30_000
    bench = Bench(board)
    greeting = bench.open()
    assert (greeting.fields["probes"], greeting.fields["engine"], greeting.fields["top_rate"]) == (56, "software", "50")
    first = machine.count
    ticks = bench.step(6) + bench.burst(10, "50")
    counts = [first + place for place in range(17)]
    assert [(tick.early >> 16, tick.late >> 16) for tick in ticks] == list(itertools.pairwise(counts))
    assert {tick.flags for tick in ticks} == {0}
    assert min(board.phases_ns()[1:]) >= 1_000_000
    assert machine.reading_ns / 1000 < MOST_READING_US, "docs/how-to/more-probes.md says how long it takes"
    rate_hz = 9e9 / (board.rising_ns[-1] - board.rising_ns[-10])
    print(f"reading forty probes out took up to {machine.reading_ns / 1000:.0f} us; asked for 50 Hz: {rate_hz:.1f} Hz")
