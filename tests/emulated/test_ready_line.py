"""Steps by the ready line on the real CircuitPython: the clock runs on, the machine goes a cycle at a time."""

from __future__ import annotations

from pathlib import Path

import pytest

from handtick.errors import Refused
from handtick.log import LogReader
from handtick.opening import open_link
from handtick.wiring import Bus, Wiring
from handtick.wiring.model import Clock
from tests.board.waiting_machine import WRITES, Waiting
from tests.emulated.emulated_board import EmulatedBoard

pytestmark = pytest.mark.needs_image

# Half of a tick at 25 kHz. The emulator lets a PIO go one cycle an instruction of the processor, which takes one or
# more: a phase looks up to twice as long there, where a clock that waits for the loop would show milliseconds.
PHASE_NS = 20_000
LOOKS_LIKE_NS = 2 * PHASE_NS

WIRING = Wiring((Bus("cycle", tuple(range(15))), Bus("write", (WRITES,))), clock=Clock("no", 50, 50, "high", "write"))


def test_machine_goes_a_cycle_at_a_time_while_its_clock_runs(board: EmulatedBoard, tmp_path: Path) -> None:
    """Started with the machine held: each step is one cycle, writes are told as not held, and the clock never waits."""
    machine = Waiting(lambda cycle: cycle in (4, 5))
    board.wire(machine)
    log = tmp_path / "log.sqlite3"
    with open_link(board, log, WIRING) as bench:
        cycles = bench.step_by_ready(3, "25000")
        assert [(cycle.number, cycle.late, cycle.passed) for cycle in cycles] == [(1, 1, 0), (2, 2, 0), (3, 3, 0)]
        (fourth,) = bench.step_by_ready(1)
        assert (fourth.number, fourth.late & 0x7FFF, fourth.passed) == (4, 6, 2)
        assert machine.cycles == 6 < machine.edges
        board.run(0.05)
        assert machine.cycles == 6
        bench.let_go()
        missed = machine.edges - machine.cycles
        board.run(0.02)
        assert machine.edges - machine.cycles == missed
        with pytest.raises(Refused):
            bench.half()
    # The first one is the rest before the run.
    assert min(board.phases_ns()[1:]) >= PHASE_NS
    assert max(board.phases_ns()[1:]) <= LOOKS_LIKE_NS
    assert "Traceback" not in board.console
    with LogReader.open(log) as reader:
        assert "not held: 2 more" in str([note.text for note in reader.notes()])
