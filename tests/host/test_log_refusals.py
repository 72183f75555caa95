"""A log that cannot be had says what happened, which file, and what to do next."""

import contextlib
import os
import shutil
import sqlite3
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest

from handtick.errors import LogError
from handtick.log import LogReader, LogWriter

NOW = 1_764_000_000_000_000_000


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the name of a log that is not there yet."""
    return tmp_path / "log.sqlite3"


def refusal(path: Path, board: str = "shed") -> str:
    """Give the one line a writer is refused with."""
    with pytest.raises(LogError) as caught:
        LogWriter.open(path, board, NOW)
    message = str(caught.value)
    assert "\n" not in message
    return message


@pytest.mark.fault(
    "log",
    "another board's log",
    "whose it is; nothing is written",
)
def test_another_boards_log_is_refused(path: Path) -> None:
    """The message has the file and both boards, and says to use another file; the log stays as it was."""
    LogWriter.open(path, "shed", NOW).close()
    before = path.read_bytes()
    assert refusal(path, "loft") == (
        f"log '{path}' belongs to board 'shed', not to board 'loft'; use another file with --log FILE"
    )
    assert path.read_bytes() == before


@pytest.mark.fault(
    "log",
    "two programs on one log",
    "who has it; the first goes on",
)
def test_two_programs_do_not_write_one_log(path: Path) -> None:
    """The second is told that another program has the log, also where it uses another name for the file."""
    with LogWriter.open(path, "shed", NOW):
        assert "another program holds it" in refusal(path)
        (path.parent / "link.sqlite3").symlink_to(path)
        assert "another program holds it" in refusal(path.parent / "link.sqlite3")
        code = "import sys; from handtick.log import LogWriter; LogWriter.open(sys.argv[1], 'shed', 0)"
        second = subprocess.run([sys.executable, "-c", code, path], capture_output=True, text=True, check=False)
        assert "another program holds it" in second.stderr
    LogWriter.open(path, "shed", NOW).close()


@pytest.mark.fault(
    "log",
    "a lock that a crash left behind",
    "nothing",
)
def test_a_lock_left_behind_by_a_crash_locks_nothing(path: Path) -> None:
    """A log whose writer was killed opens again at once."""
    path.with_name(path.name + "-lock").touch()
    LogWriter.open(path, "shed", NOW).close()


@pytest.mark.fault(
    "log",
    "a file that is no log",
    "that it is none; it is left alone",
)
@pytest.mark.parametrize("content", [b"x", b"rain,tips\n", b"rain,tips\n" * 500, b"SQLite format 3\0" + b"?" * 5000])
def test_a_file_that_is_no_log_is_refused_and_left_alone(path: Path, content: bytes) -> None:
    """A file of another kind, however short, is not written to."""
    path.write_bytes(content)
    assert "is not a tick log" in refusal(path)
    with pytest.raises(LogError, match="is not a tick log"):
        LogReader.open(path)
    assert path.read_bytes() == content


def test_another_programs_database_is_refused_and_left_alone(path: Path) -> None:
    """A SQLite file that is no tick log is not written to."""
    other = sqlite3.connect(path)
    other.execute("CREATE TABLE recipe (name)")
    other.close()
    before = path.read_bytes()
    assert "a database of another program, not a tick log" in refusal(path)
    assert path.read_bytes() == before


@pytest.mark.fault(
    "log",
    "a log of a newer version",
    "which program can read it",
)
def test_a_log_of_a_newer_version_is_refused(path: Path) -> None:
    """The message says which version the log has, which is known, and to update."""
    LogWriter.open(path, "shed", NOW).close()
    other = sqlite3.connect(path)
    other.execute("PRAGMA user_version = 99")
    other.close()
    assert "has version 99, this handtick knows up to 1; update handtick" in refusal(path)
    with pytest.raises(LogError, match="has version 99"):
        LogReader.open(path)


def test_a_folder_is_refused(tmp_path: Path) -> None:
    """A folder given as the log, or a folder that is not there, is named in the message."""
    assert f"'{tmp_path}' is a folder" in refusal(tmp_path)
    assert f"there is no folder '{tmp_path / 'none'}'" in refusal(tmp_path / "none" / "log.sqlite3")
    assert list(tmp_path.iterdir()) == []


def test_reading_a_log_that_is_not_there_does_not_make_one(path: Path) -> None:
    """A mistyped name gives a message, not an empty file."""
    with pytest.raises(LogError, match="there is no log"):
        LogReader.open(path)
    assert not path.exists()


def test_an_empty_file_becomes_a_log(path: Path) -> None:
    """A file somebody made with nothing in it is empty to a reader and new to a writer."""
    path.touch()
    with pytest.raises(LogError, match="is empty"):
        LogReader.open(path)
    LogWriter.open(path, "shed", NOW).close()
    with LogReader.open(path) as reader:
        assert reader.board_id == "shed"


@contextlib.contextmanager
def plain_user() -> Iterator[None]:
    """Act, within the block, as somebody whom the file system can refuse; root it refuses nothing."""
    root = os.geteuid() == 0
    if root:
        os.seteuid(65534)
    try:
        yield
    finally:
        if root:
            os.seteuid(0)


@pytest.mark.fault(
    "log",
    "a folder that can't be written",
    "why; reading still works",
)
@pytest.mark.skipif(sys.platform == "win32", reason="Windows folders have no permission to take away")
def test_a_folder_that_cannot_be_written_is_refused_to_a_writer_only() -> None:
    """In a read-only folder a closed log is read as ever, and a writer is told to use another folder."""
    folder = Path(tempfile.mkdtemp())
    try:
        path = folder / "log.sqlite3"
        with LogWriter.open(path, "shed", NOW) as log:
            log.add_tick(1, 0, 1, 0, 0, 0, 0)
        path.chmod(0o444)
        folder.chmod(0o555)
        with plain_user():
            assert "use a folder you may write in, with --log FILE" in refusal(path)
            with LogReader.open(path) as reader:
                assert reader.last_key() == (1, 0, 1)
        folder.chmod(0o777)
        with plain_user():
            assert "it is read-only" in refusal(path)
        with LogReader.open(path) as reader:
            assert reader.last_key() == (1, 0, 1)
    finally:
        folder.chmod(0o755)
        shutil.rmtree(folder)


@pytest.mark.fault(
    "log",
    "the disk is full for a while",
    "an error; the rows go in later",
)
def test_a_full_disk_loses_nothing_that_a_later_commit_can_write(path: Path) -> None:
    """With the disk full a commit fails aloud, the ticks wait, and go in once there is space."""
    with LogWriter.open(path, "shed", NOW) as log:
        log.add_tick(1, 0, 1, 0, 0, 0, 0)
        log.commit(NOW)
        # SQLite's own limit on the file's size fails the way a full disk does, in the middle of writing.
        log._connection.execute("PRAGMA max_page_count = 40")
        run = log.start_run(1, 0, 2, "step 20000", NOW)
        log.add_ticks((1, 0, tick, 5, 6, tick, 0) for tick in range(2, 20_002))
        with pytest.raises(LogError) as caught:
            log.end_run(run, 20_001, "count reached", NOW)
        assert str(caught.value) == (
            f"cannot write log '{path}': the disk is full; free some space, or choose another file "
            "with --log FILE (20002 rows wait in memory)"
        )
        with LogReader.open(path) as reader:
            assert reader.last_key() == (1, 0, 1)
            assert reader.runs() == []
        with pytest.raises(LogError, match="the disk is full"):
            log.commit(NOW)
        log._connection.execute("PRAGMA max_page_count = 100000")
        log.add_tick(1, 0, 20_002, 0, 0, 30_000, 0)
        log.commit(NOW)
    with LogReader.open(path) as reader:
        assert [tick.tick for tick in reader.all_ticks()] == list(range(1, 20_003))
        assert [(run.asked, run.last_tick) for run in reader.runs()] == [("step 20000", 20_001)]


@pytest.mark.fault(
    "log",
    "the disk is full to the end",
    "how many rows are lost",
)
def test_a_full_disk_at_the_end_says_what_is_lost(path: Path) -> None:
    """Closing a log that cannot take its last ticks says how many are lost, and lets go of the file."""
    log = LogWriter.open(path, "shed", NOW)
    log._connection.execute("PRAGMA max_page_count = 40")
    log.add_ticks((1, 0, tick, 5, 6, tick, 0) for tick in range(1, 20_001))
    with pytest.raises(LogError, match=r"the disk is full.*\(20000 rows are lost\)"):
        log.close()
    LogWriter.open(path, "shed", NOW).close()


def test_a_failing_commit_is_tried_once_a_second(path: Path) -> None:
    """While the disk stays full the program is told once a second, not at every tick."""
    with LogWriter.open(path, "shed", NOW) as log:
        log._connection.execute("PRAGMA max_page_count = 40")
        log.add_ticks((1, 0, tick, 5, 6, tick, 0) for tick in range(1, 20_001))
        later = NOW + 2_000_000_000
        with pytest.raises(LogError, match="the disk is full"):
            log.commit_if_due(later)
        assert not log.commit_if_due(later + 1)
        log._connection.execute("PRAGMA max_page_count = 100000")
        assert log.commit_if_due(later + 1_000_000_000)


@pytest.mark.fault(
    "log",
    "the log is moved or removed while in use",
    "that it is gone; put it back",
)
@pytest.mark.skipif(sys.platform == "win32", reason="Windows does not let go of an open file's name")
def test_a_log_taken_away_while_in_use_is_noticed(path: Path, tmp_path: Path) -> None:
    """Moving the file away fails the next commit aloud; once it is back, the waiting ticks go in."""
    with LogWriter.open(path, "shed", NOW) as log:
        log.add_tick(1, 0, 1, 0, 0, 0, 0)
        path.rename(tmp_path / "elsewhere")
        with pytest.raises(LogError, match=r"moved or removed while in use; put it back \(1 rows wait in memory\)"):
            log.commit(NOW)
        (tmp_path / "elsewhere").rename(path)
        log.commit(NOW)
    with LogReader.open(path) as reader:
        assert reader.last_key() == (1, 0, 1)


def test_another_tool_that_holds_the_log_delays_it_only(path: Path) -> None:
    """A SQLite tool in the middle of a change of its own is named as the reason, and the ticks wait."""
    with LogWriter.open(path, "shed", NOW) as log:
        log._connection.execute("PRAGMA busy_timeout = 0")
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        log.add_tick(1, 0, 1, 0, 0, 0, 0)
        with pytest.raises(LogError, match="another program holds it"):
            log.commit(NOW)
        other.close()
        log.commit(NOW)
        assert log.pending == 0
