"""A program that goes on with a log misses every tick that the log does not account for, over resets too."""

from __future__ import annotations

from pathlib import Path

from handtick.bench import Bench
from handtick.links.virtual import VirtualLink
from handtick.log import NOT_TOLD, LogReader, LogWriter, accounted
from handtick.log.check import check
from handtick.opening import open_link
from handtick.place import Place
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.wiring import Wiring

NOW_NS = 1_764_000_000_000_000_000
AT_REST: dict[str, object] = {"waiting": 0, "mode": "rest"}
# Ticks that the board makes while it holds the machine in reset.
UNDER_RESET = 2


def open_again(board: VirtualBoard, log: Path | None) -> Bench:
    """A bench on a board that goes on living, as one command after another opens it."""
    return open_link(VirtualLink(board), log, Wiring())


def gaps(path: Path) -> list[tuple[int, int, int]]:
    """Gaps in a log as (reset, first, last)."""
    with LogReader.open(path) as log:
        return [(gap.reset, gap.first_tick, gap.last_tick) for gap in log.gaps()]


def unplaced(path: Path) -> list[tuple[int, int]]:
    """Ticks without numbers in a log as (before which reset, how many)."""
    with LogReader.open(path) as log:
        return [(each.reset, each.count) for each in log.unplaced()]


def place(path: Path) -> Place | None:
    """How far a log accounts for its board's ticks."""
    with LogReader.open(path) as log:
        return accounted(log)


def test_ticks_before_a_reset_that_the_log_never_heard_of_are_a_gap(tmp_path: Path) -> None:
    """Ten ticks logged; five more, a reset and three more go elsewhere: all of them are missing, by their numbers."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    with open_again(board, path) as bench:
        bench.step(10)
    with open_again(board, None) as bench:
        bench.step(5)
        bench.reset()
        bench.step(3)
    with open_again(board, path) as bench:
        bench.step(1)
    assert gaps(path) == [(0, 11, 15 + UNDER_RESET), (1, 1, 3)]
    assert unplaced(path) == []
    assert [finding.text for finding in check(path) if finding.kind == "wrong"] == []


def test_ticks_before_two_resets_that_the_log_never_heard_of_are_counted(tmp_path: Path) -> None:
    """Nobody knows which ticks were before which of two resets; how many they were is told, and no more."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    with open_again(board, path) as bench:
        bench.step(10)
    with open_again(board, None) as bench:
        bench.step(5)
        bench.reset()
        bench.step(3)
        bench.reset()
        bench.step(4)
    with open_again(board, path) as bench:
        bench.step(1)
    assert gaps(path) == [(2, 1, 4)]
    assert unplaced(path) == [(2, 5 + UNDER_RESET + 3 + UNDER_RESET)]


def test_gap_already_told_is_not_told_again(tmp_path: Path) -> None:
    """The next program, which makes no tick, misses nothing that the one before it has told of."""
    board, path = VirtualBoard(Larch(RAIN_TALLY)), tmp_path / "log.sqlite3"
    with open_again(board, path) as bench:
        bench.step(10)
    with open_again(board, None) as bench:
        bench.step(5)
    for _ in range(3):
        with open_again(board, path):
            pass
    assert gaps(path) == [(0, 11, 15)]


def test_new_log_accounts_for_nothing(tmp_path: Path) -> None:
    """There is no place to go on from where nothing was heard."""
    path = tmp_path / "log.sqlite3"
    LogWriter.open(path, "shed", NOW_NS).close()
    assert place(path) is None


def test_log_accounts_for_gaps_as_for_ticks(tmp_path: Path) -> None:
    """Ticks told to be missing are the last accounted for."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.greet(3, 0, 5, 25, AT_REST, NOW_NS)
        log.add_tick(3, 0, 6, 0, 0, 0, 0)
        log.add_gap(3, 0, 7, 9, "link", NOW_NS)
    assert place(path) == Place(3, 0, 9, 20)


def test_greeting_while_records_wait_says_nothing_about_them(tmp_path: Path) -> None:
    """Only after a greeting at rest with nothing on its way is every tick that comes a new one."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.greet(3, 1, 0, 25, AT_REST, NOW_NS)
        log.greet(3, 1, 90, 115, {"waiting": 40, "mode": "rest"}, NOW_NS)
    assert place(path) == Place(3, 1, 0, 25)


def test_edge_count_at_a_reset_is_what_the_log_accounts_for_before_it(tmp_path: Path) -> None:
    """A greeting's edge count and the ticks, gaps and ticks without numbers since give the count at a later zero."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.greet(3, 0, 5, 25, AT_REST, NOW_NS)
        log.add_gap(3, 0, 6, 10, "link", NOW_NS)
        log.add_unplaced(3, 2, 100, "no-host", NOW_NS)
        log.add_tick(3, 2, 1, 0, 0, 0, 0)
    assert place(path) == Place(3, 2, 1, 20 + 10 + 100, sure=False)


def test_later_start_of_the_board_is_accounted_for_from_its_zero(tmp_path: Path) -> None:
    """A log that knew an earlier start misses what the next one made before its first greeting, too."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.greet(3, 0, 5, 25, AT_REST, NOW_NS)
        log.greet(4, 2, 9, 30, {"waiting": 9, "mode": "rest"}, NOW_NS)
    assert place(path) == Place(4, 0, 0, 0)


def test_edge_count_in_doubt_is_not_taken_from_a_greeting_that_settled_nothing(tmp_path: Path) -> None:
    """Killed before the ticks in front of an unheard reset were told missing: the log does not account for them."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.greet(3, 0, 5, 25, AT_REST, NOW_NS)
        log.greet(3, 1, 2, 40, {"waiting": 2, "mode": "rest"}, NOW_NS)
        log.add_tick(3, 1, 1, 0, 0, 0, 0)
    assert place(path) == Place(3, 1, 1, 25, sure=False)


def test_run_that_the_board_told_of_makes_the_edge_count_sure(tmp_path: Path) -> None:
    """The report that a run begins has the edge count in it; a run made up for ticks that came has not."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.greet(3, 0, 5, 25, AT_REST, NOW_NS)
        log.start_run(3, 1, 1, NOT_TOLD, NOW_NS)
        log.add_tick(3, 1, 1, 0, 0, 0, 0)
    assert place(path) == Place(3, 1, 1, 25, sure=False)
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.start_run(3, 1, 2, "step:1", NOW_NS)
    assert place(path) == Place(3, 1, 1, 25)


def test_boot_whose_counts_no_greeting_told_has_no_edge_count(tmp_path: Path) -> None:
    """Where the log has ticks and no greeting, the next program begins with the edge count that it hears."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.add_tick(3, 2, 7, 0, 0, 0, 0)
    assert place(path) == Place(3, 2, 7, None, sure=False)


def test_boards_clocked_in_turns_miss_nothing(tmp_path: Path) -> None:
    """One board, another, and the first again, over and over: every tick is in the log, and nothing is said to be
    missing."""
    boards = [VirtualBoard(Larch(RAIN_TALLY), boot=boot) for boot in (24, 25)]
    path = tmp_path / "log.sqlite3"
    with open_again(boards[0], None) as bench:
        # What the first had made before the log began is no part of it.
        bench.step(7)
    for turn in range(4):
        for board in boards:
            with open_again(board, path) as bench:
                if turn != 1:
                    bench.reset()
                bench.step(2 + turn)
    assert gaps(path) == unplaced(path) == []
    assert [finding.text for finding in check(path) if finding.kind == "wrong"] == []


def test_what_one_board_made_unheard_is_missed_after_another_was_clocked(tmp_path: Path) -> None:
    """Ticks that go elsewhere meanwhile are named when their board is heard again, and no others."""
    first, other = (VirtualBoard(Larch(RAIN_TALLY), boot=boot) for boot in (24, 25))
    path = tmp_path / "log.sqlite3"
    for board in (first, other):
        with open_again(board, path) as bench:
            bench.step(10)
    with open_again(first, None) as bench:
        bench.step(5)
    with open_again(first, path) as bench:
        bench.step(1)
    assert gaps(path) == [(0, 11, 15)]
    assert unplaced(path) == []


def test_boot_heard_again_is_the_last_accounted_for(tmp_path: Path) -> None:
    """The log goes on with the boot that was heard last, however early it was heard first; the first of all begins
    where the log does."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW_NS) as log:
        log.greet(3, 0, 5, 25, AT_REST, NOW_NS)
        log.greet(4, 0, 0, 0, AT_REST, NOW_NS)
        log.greet(3, 0, 6, 26, {"waiting": 1, "mode": "rest"}, NOW_NS)
    assert place(path) == Place(3, 0, 5, 20)
    with LogReader.open(path) as reader:
        assert accounted(reader, 4) == Place(4, 0, 0, 0)
        assert accounted(reader, 5) is None
