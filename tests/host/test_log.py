"""What is put into a tick log comes out of it again."""

import random
import sqlite3
from collections.abc import Iterator
from pathlib import Path, PurePath, PurePosixPath, PureWindowsPath

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.errors import LogError
from handtick.log import LogReader, LogWriter, Tick
from handtick.log.reader import uri_of

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


def test_a_step_is_logged_with_what_was_asked_and_why_it_stopped(log: LogWriter, path: Path) -> None:
    """After `step 3` the log holds one run and its three ticks, at once readable by another program."""
    run = log.start_run(4, 0, 1, "step 3", NOW)
    log.add_ticks([(4, 0, 1, 0, 0xA5, 10, 0), (4, 0, 2, 0xA5, 0x5A, 20, 0), (4, 0, 3, 0x5A, 0xFFFF, 30, 1)])
    log.end_run(run, 3, "count reached", NOW + 1)
    with LogReader.open(path) as reader:
        (logged,) = reader.runs()
        assert (logged.id, logged.asked, logged.first_tick, logged.last_tick) == (run, "step 3", 1, 3)
        assert (logged.why, logged.started_ns, logged.ended_ns) == ("count reached", NOW, NOW + 1)
        assert logged.started_utc == "2025-11-24T16:00:00.000Z"
        assert list(reader.ticks(4, 0)) == [
            Tick(4, 0, 1, 0, 0xA5, 10, 0),
            Tick(4, 0, 2, 0xA5, 0x5A, 20, 0),
            Tick(4, 0, 3, 0x5A, 0xFFFF, 30, 1),
        ]
        assert list(reader.ticks(4, 0, 2, 2)) == [Tick(4, 0, 2, 0xA5, 0x5A, 20, 0)]
        assert reader.last_key() == (4, 0, 3)
        assert reader.board_id == "shed"


def test_everything_else_that_happens_is_logged(log: LogWriter, path: Path) -> None:
    """Greetings, gaps, unplaced ticks, damage and notes come back as they were given."""
    fields = {"firmware": "1.0", "probes": 16, "bench": "Werkbank häuschen"}
    log.greet(7, 2, 40, 90, fields, NOW)
    log.add_gap(7, 2, 41, 60, "not traced", NOW + 1)
    log.add_unplaced(7, 3, 12, "host was away", NOW + 1)
    log.add_damage(b"\x00\xfftick", 3, NOW + 2, 7, 2, 60)
    log.add_damage(b"\x80", 0, NOW + 3)
    log.add_note(7, 2, 40, "the lamp came on early", NOW + 4)
    log.commit(NOW)
    with LogReader.open(path) as reader:
        (greeting,) = reader.greetings()
        assert (greeting.boot, greeting.reset, greeting.tick, greeting.edges) == (7, 2, 40, 90)
        assert greeting.fields == fields
        (gap,) = reader.gaps()
        assert (gap.first_tick, gap.last_tick, gap.why, gap.host_ns) == (41, 60, "not traced", NOW + 1)
        (some,) = reader.unplaced()
        assert (some.boot, some.reset, some.count, some.why) == (7, 3, 12, "host was away")
        near, before = reader.damage()
        assert (near.lines, before.lines) == (3, 0)
        assert (near.raw, near.boot, near.reset, near.tick) == (b"\x00\xfftick", 7, 2, 60)
        assert (before.raw, before.boot, before.reset, before.tick) == (b"\x80", None, None, None)
        (note,) = reader.notes()
        assert (note.boot, note.reset, note.tick, note.text) == (7, 2, 40, "the lamp came on early")


def test_a_sample_that_was_not_taken_is_none(log: LogWriter, path: Path) -> None:
    """A tick without an early or a late sample is told apart from a tick whose probes are all low."""
    log.add_tick(1, 0, 1, None, 0, 5, 0)
    log.commit(NOW)
    with LogReader.open(path) as reader:
        assert list(reader.all_ticks()) == [Tick(1, 0, 1, None, 0, 5, 0)]


def test_words_with_broken_characters_are_logged(log: LogWriter, path: Path) -> None:
    """A note typed in a terminal with the wrong encoding stops neither itself nor the ticks."""
    log.add_note(1, 0, 1, "K\udcfche", NOW)
    log.add_tick(1, 0, 1, 0, 0, 0, 0)
    log.commit(NOW)
    with LogReader.open(path) as reader:
        assert [note.text for note in reader.notes()] == ["K\\udcfche"]
        assert reader.last_key() == (1, 0, 1)


_TICKS = st.lists(
    st.tuples(
        st.integers(0, 2),
        st.integers(0, 2),
        st.integers(1, 2**63 - 1) | st.integers(1, 4),
        st.none() | st.integers(0, 2**32),
        st.none() | st.integers(0, 2**32),
        st.integers(0, 2**63 - 1),
        st.integers(0, 255),
    ),
    unique_by=lambda row: row[:3],
)


@settings(deadline=None)  # each example makes a file, and disks take their time
@given(ticks=_TICKS, seed=st.integers(0, 2**32))
def test_any_order_and_repetition_of_the_same_ticks_gives_the_same_log(
    ticks: list[tuple[int, int, int, int | None, int | None, int, int]],
    seed: int,
    tmp_path_factory: pytest.TempPathFactory,
) -> None:
    """Ticks that come late, twice or backwards, over several commits, are each in the log once and in order."""
    chance = random.Random(seed)
    arriving = ticks + chance.choices(ticks, k=len(ticks)) if ticks else []
    chance.shuffle(arriving)
    path = tmp_path_factory.mktemp("log") / "log.sqlite3"
    with LogWriter.open(path, "shed", NOW) as log:
        for row in arriving:
            log.add_tick(*row)
            if chance.random() < 0.3:
                log.commit(NOW)
    with LogReader.open(path) as reader:
        assert sorted(reader.all_ticks(), key=lambda tick: tick.key) == [Tick(*row) for row in sorted(ticks, key=_key)]
        assert list(reader.conflicts()) == []


def _key(row: tuple[int, int, int, int | None, int | None, int, int]) -> tuple[int, int, int]:
    return row[:3]


@pytest.mark.parametrize("commit_between", [True, False])
def test_a_tick_that_comes_again_with_other_values_does_not_replace_the_first(
    log: LogWriter, path: Path, commit_between: bool
) -> None:
    """The first values stay, and the others are kept as a conflict, each once, however often they come."""
    log.add_tick(1, 0, 9, 1, None, 100, 0)
    if commit_between:
        log.commit(NOW)
    for late in (7, 8, 7, None, 8):
        log.add_tick(1, 0, 9, 1, late, 100, 0)
        if commit_between:
            log.commit(NOW)
    log.commit(NOW)
    with LogReader.open(path) as reader:
        assert list(reader.all_ticks()) == [Tick(1, 0, 9, 1, None, 100, 0)]
        assert [conflict.late for conflict in reader.conflicts()] == [7, 8]


@pytest.mark.parametrize(
    "table", ["unplaced", "tick", "run", "run_end", "gap", "note", "damage", "greeting", "conflict", "board"]
)
@pytest.mark.parametrize("change", ["UPDATE {} SET rowid = rowid + 1", "DELETE FROM {}"])
def test_no_program_changes_what_was_logged(log: LogWriter, path: Path, table: str, change: str) -> None:
    """Any SQLite tool that tries to change or delete a row of a log is told that a log is only added to."""
    run = log.start_run(1, 0, 1, "step", NOW)
    log.greet(1, 0, 0, 0, {}, NOW)
    log.add_tick(1, 0, 1, 0, 0, 0, 0)
    log.add_tick(1, 0, 1, 1, 0, 0, 0)
    log.add_gap(1, 0, 2, 2, "lost", NOW)
    log.add_note(1, 0, 1, "here", NOW)
    log.add_damage(b"?", 0, NOW)
    log.add_unplaced(1, 1, 4, "lost", NOW)
    log.end_run(run, 2, "halt line", NOW)
    sql = change.format(table)
    if table == "tick":
        sql = sql.replace("rowid", "late")
    other = sqlite3.connect(path)
    with pytest.raises(sqlite3.IntegrityError, match="a tick log is only added to"):
        other.execute(sql)
    other.close()


def test_the_same_gap_noticed_twice_is_one_gap(log: LogWriter, path: Path) -> None:
    """A board that is asked again and says again what it lost adds nothing."""
    for _ in range(2):
        log.add_gap(1, 0, 5, 9, "log full", NOW)
        log.commit(NOW)
    with LogReader.open(path) as reader:
        assert len(reader.gaps()) == 1


def test_numbers_as_large_as_the_log_can_hold_are_plain_numbers(log: LogWriter, path: Path) -> None:
    """A tick number of 2**63 - 1 is read by any SQLite tool as that number."""
    log.add_tick(2**63 - 1, 2**63 - 1, 2**63 - 1, 2**32, 2**32, 2**63 - 1, 255)
    log.commit(NOW)
    other = sqlite3.connect(path)
    assert other.execute("SELECT boot, reset, tick FROM tick").fetchall() == [(2**63 - 1,) * 3]
    other.close()


@pytest.mark.parametrize("place", [0, 1, 2, 3, 5])
@pytest.mark.parametrize("number", [2**63, 2**64 - 1, -1])
def test_a_number_the_log_cannot_hold_is_refused_aloud(log: LogWriter, path: Path, place: int, number: int) -> None:
    """The message has the number, nothing of that batch goes in, and later ticks do."""
    row = [1, 0, 2, 0, 0, 0, 0]
    row[place] = number
    with pytest.raises(LogError, match=f"the log cannot hold {number} in a tick row"):
        log.add_ticks([(1, 0, 1, 0, 0, 0, 0), tuple(row)])  # type: ignore[list-item]
    with pytest.raises(LogError, match=f"the log cannot hold {number} in a note row"):
        log.add_note(1, 0, number, "far", NOW)
    log.add_tick(1, 0, 3, 0, 0, 0, 0)
    log.commit(NOW)
    with LogReader.open(path) as reader:
        assert [tick.tick for tick in reader.all_ticks()] == [3]


def test_a_boot_heard_again_is_the_last(log: LogWriter, path: Path) -> None:
    """Clocked one board, then another, then the first again: the last ticks are the first board's."""
    for boot, tick in ((7, 1), (8, 1), (7, 2)):
        log.greet(boot, 0, tick, tick, {}, NOW)
        log.add_tick(boot, 0, tick, 0, 0, tick, 0)
    log.commit(NOW)
    with LogReader.open(path) as reader:
        assert (reader.boots(), reader.first_boot()) == ([8, 7], 7)
        assert reader.last_key() == (7, 0, 2)
        assert [tick.key for tick in reader.last_ticks(2)] == [(7, 0, 1), (7, 0, 2)]


@pytest.mark.parametrize("first", [2, 2**63 - 1, 2**63, 2**64 - 1])
def test_tick_numbers_past_what_the_log_can_hold_are_of_no_tick(first: int, log: LogWriter, path: Path) -> None:
    """A board counts to 2^64 - 1; ticks that far are asked for without an error, and there are none."""
    log.add_tick(1, 0, 2, 0, 0, 0, 0)
    log.commit(NOW)
    with LogReader.open(path) as reader:
        assert [tick.tick for tick in reader.ticks(1, 0, first, 2**64 - 1)] == ([2] if first == 2 else [])
        assert [tick.tick for tick in reader.last_ticks(2**64 - 1)] == [2]


def test_ticks_may_be_let_go_of_after_the_log_is_closed(log: LogWriter, path: Path) -> None:
    """Whoever has had enough after the first tick hears nothing of the rest, in whichever order they let go."""
    log.add_ticks([(1, 0, tick, 0, 0, tick, 0) for tick in range(1, 10)])
    log.commit(NOW)
    reader = LogReader.open(path)
    ticks = reader.all_ticks()
    assert next(ticks).tick == 1
    reader.close()
    ticks.close()


@pytest.mark.parametrize(
    ("path", "uri"),
    [
        (PurePosixPath("/home/lab/log 1?.sqlite3"), "file:///home/lab/log%201%3F.sqlite3"),
        (PureWindowsPath(r"C:\lab\log.sqlite3"), "file:///C:/lab/log.sqlite3"),
        (PureWindowsPath(r"\\server\lab\log.sqlite3"), "file:////server/lab/log.sqlite3"),
    ],
)
def test_log_on_a_network_share_has_a_name_that_sqlite_takes(path: PurePath, uri: str) -> None:
    """SQLite knows no host in a name; with two strokes more the server is part of the path."""
    assert uri_of(path) == uri


def test_boots_are_told_in_the_order_they_happened(log: LogWriter, path: Path) -> None:
    """A board whose boot numbers do not rise still gives its ticks in the order it made them."""
    for boot in (9, 3, 6):
        log.greet(boot, 0, 0, 0, {}, NOW)
        log.add_ticks([(boot, 1, 1, 0, 0, 20, 0), (boot, 0, 1, 0, 0, 10, 0)])
    log.greet(5, 0, 0, 0, {}, NOW)
    log.commit(NOW)
    with LogReader.open(path) as reader:
        assert reader.boots() == [9, 3, 6, 5]
        keys = [tick.key for tick in reader.all_ticks()]
        assert keys == [(9, 0, 1), (9, 1, 1), (3, 0, 1), (3, 1, 1), (6, 0, 1), (6, 1, 1)]
        assert reader.last_key() == (6, 1, 1)
