"""A log is committed, read meanwhile, closed and opened again."""

import itertools
from collections.abc import Iterator
from pathlib import Path

import pytest

from handtick.errors import LogError
from handtick.log import LogReader, LogWriter

NOW = 1_764_000_000_000_000_000  # 2025-11-24T16:00:00Z
SECOND = 1_000_000_000


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the name of a log that is not there yet."""
    return tmp_path / "rain tally 100%?.sqlite3"


@pytest.fixture
def log(path: Path) -> Iterator[LogWriter]:
    """Give a new log of the board `shed`, open for writing."""
    with LogWriter.open(path, "shed", NOW) as log:
        yield log


def test_ticks_are_in_the_file_at_most_a_second_after_they_came(log: LogWriter, path: Path) -> None:
    """A commit is due where a tick waits and the last commit is a second ago, and not before."""
    log.add_tick(1, 0, 1, 0, 0, 0, 0)
    assert not log.commit_if_due(NOW + SECOND - 1)
    assert log.commit_if_due(NOW + SECOND)
    assert not log.commit_if_due(NOW + 5 * SECOND)
    log.add_tick(1, 0, 2, 0, 0, 0, 0)
    assert log.commit_if_due(NOW + 5 * SECOND)
    assert log.pending == 0
    with LogReader.open(path) as reader:
        assert len(list(reader.all_ticks())) == 2


def test_many_ticks_within_a_second_do_not_all_wait_for_it(log: LogWriter, path: Path) -> None:
    """Memory is bounded however fast ticks come; a commit that fails is tried again after as many more."""
    many = range(1, 65_536)
    log.add_ticks((1, 0, tick, 0, 0, 0, 0) for tick in many)
    assert not log.commit_if_due(NOW + 1)
    log.add_tick(1, 0, 65_536, 0, 0, 0, 0)
    assert log.commit_if_due(NOW + 1)
    assert log.pending == 0
    log.add_ticks((1, 1, tick, 0, 0, 0, 0) for tick in range(1, 65_537))
    log._connection.execute("PRAGMA max_page_count = 40")
    with pytest.raises(LogError, match="the disk is full"):
        log.commit_if_due(NOW + 2)
    log.add_ticks((1, 2, tick, 0, 0, 0, 0) for tick in many)
    assert not log.commit_if_due(NOW + 3)
    log.add_tick(1, 2, 65_536, 0, 0, 0, 0)
    log._connection.execute("PRAGMA max_page_count = 1000000")
    assert log.commit_if_due(NOW + 4)
    with LogReader.open(path) as reader:
        assert sum(1 for _ in reader.all_ticks()) == 3 * 65_536


def test_a_host_clock_set_back_does_not_hold_up_the_log(log: LogWriter) -> None:
    """Ticks are committed also where the host's clock has gone back by an hour."""
    log.add_tick(1, 0, 1, 0, 0, 0, 0)
    assert log.commit_if_due(NOW - 3600 * SECOND)


def test_a_log_can_be_read_while_it_is_written(log: LogWriter, path: Path) -> None:
    """Somebody half way through reading neither stops the writer nor sees what came after they began."""
    log.add_ticks((1, 0, tick, tick, tick, tick, 0) for tick in range(1, 10_001))
    log.commit(NOW)
    with LogReader.open(path) as reader:
        ticks = reader.ticks(1, 0)
        seen = list(itertools.islice(ticks, 10))
        log.add_ticks((1, 0, tick, tick, tick, tick, 0) for tick in range(10_001, 20_001))
        log.commit(NOW)
        seen += ticks
        assert [tick.tick for tick in seen] == list(range(1, 10_001))
        assert reader.last_key() == (1, 0, 20_000)


def test_a_log_is_added_to_from_one_day_to_the_next(path: Path) -> None:
    """Opening a board's log again goes on where it was: runs keep their ids and new ones get others."""
    ids = []
    for day in range(3):
        with LogWriter.open(path, "shed", NOW + day) as log:
            run = log.start_run(day, 0, 1, "step", NOW)
            log.add_tick(day, 0, 1, 0, 0, 0, 0)
            log.end_run(run, 1, "count reached", NOW)
            ids.append(run)
    with LogReader.open(path) as reader:
        assert [run.id for run in reader.runs()] == ids
        assert len(set(ids)) == 3


def test_a_closed_log_is_one_file(path: Path) -> None:
    """After the log is closed nothing lies beside it, and closing it again does nothing."""
    log = LogWriter.open(path, "shed", NOW)
    log.add_tick(1, 0, 1, 0, 0, 0, 0)
    log.close()
    log.close()
    assert list(path.parent.iterdir()) == [path]
    with LogReader.open(path) as reader:
        assert reader.last_key() == (1, 0, 1)


def test_nothing_is_taken_after_the_log_is_closed(path: Path) -> None:
    """A tick given to a closed log is refused, not lost in silence."""
    log = LogWriter.open(path, "shed", NOW)
    log.close()
    with pytest.raises(ValueError, match="is closed"):
        log.add_tick(1, 0, 1, 0, 0, 0, 0)


def test_a_run_ends_once(log: LogWriter, path: Path) -> None:
    """Ending a run that has ended, or that never began, is refused and leaves the log as it was."""
    run = log.start_run(1, 0, 1, "step", NOW)
    log.end_run(run, 1, "count reached", NOW)
    with pytest.raises(ValueError, match=f"run {run} is not open"):
        log.end_run(run, 2, "again", NOW)
    with LogReader.open(path) as reader:
        assert [run.last_tick for run in reader.runs()] == [1]
