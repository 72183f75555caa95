"""What the recorder makes of runs whose beginning nobody heard."""

from __future__ import annotations

from pathlib import Path

from handtick.bench import Bench
from handtick.links.virtual import VirtualLink
from handtick.log import LogReader, check
from handtick.opening import open_link
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.wiring import Wiring


def wrong(path: Path) -> list[str]:
    """What does not add up in a log."""
    return [finding.text for finding in check(path) if finding.kind == "wrong"]


def open_again(board: VirtualBoard, path: Path) -> Bench:
    """A bench on a board that goes on living, as one command after another opens it."""
    return open_link(VirtualLink(board), path, Wiring())


def test_half_ticks_of_two_commands_are_one_tick_of_one_run(tmp_path: Path) -> None:
    """Half a tick is kept when its command ends; the other half of the next command makes it whole."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    with open_again(board, path) as bench:
        bench.half()
    board.run_until(board.now_us + 5_000_000)
    assert board.line.value, "the phase is held for as long as nobody asks for the next edge"
    with open_again(board, path) as bench:
        bench.half()
    with LogReader.open(path) as log:
        assert [tick.tick for tick in log.all_ticks()] == [1]
    assert wrong(path) == []


def test_presses_made_while_nobody_listened_belong_to_runs(tmp_path: Path) -> None:
    """A hundred presses without a host, more than the board keeps reports of, are all in the log and in runs."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    for place in range(100):
        board.press(((0, 1), (30_000, 0)), 100_000 + place * 100_000)
    board.run_until(11_000_000)
    with open_again(board, path) as bench:
        bench.step(1)
    with LogReader.open(path) as log:
        assert [tick.tick for tick in log.all_ticks()] == list(range(1, 102))
    assert wrong(path) == []


def test_run_that_was_on_when_a_host_came_is_a_run(tmp_path: Path) -> None:
    """A clock that somebody's hand had started runs on under the host's eyes, and the log has it as a run."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    board.board.conductor.run(50_000)
    board.run_until(300_000)
    with open_again(board, path) as bench:
        bench.listen(0.2)
        bench.halt()
    with LogReader.open(path) as log:
        runs = log.runs()
        ticks = [tick.tick for tick in log.all_ticks()]
    assert ticks == list(range(1, len(ticks) + 1))
    assert [run.why for run in runs] == ["halted"]
    assert wrong(path) == []
