"""Checking a log says what is there, what is missing and what does not add up."""

import itertools
import random
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.errors import LogError
from handtick.log import LogWriter
from handtick.log.check import check
from handtick.log.spans import merged, without

NOW = 1_764_000_000_000_000_000


@pytest.fixture
def path(tmp_path: Path) -> Path:
    """Give the name of a log that is not there yet."""
    return tmp_path / "log.sqlite3"


@pytest.fixture
def log(path: Path) -> Iterator[LogWriter]:
    """Give a new log of the board `shed`, open for writing."""
    with LogWriter.open(path, "shed", NOW) as log:
        yield log


def run(log: LogWriter, first: int, last: int, present: list[int], reset: int = 0) -> None:
    """Log a run of boot 1 with the ticks that are present."""
    run_id = log.start_run(1, reset, first, f"step {last - first + 1}", NOW)
    log.add_ticks((1, reset, tick, 0, 0, tick + reset * 1000, 0) for tick in present)
    log.end_run(run_id, last, "count reached", NOW + 1_000_000)


def found(path: Path, kind: str) -> list[str]:
    """Give the texts of one kind of finding."""
    return [finding.text for finding in check(path) if finding.kind == kind]


def test_a_whole_log_has_nothing_missing_and_nothing_wrong(log: LogWriter, path: Path) -> None:
    """A log in which all is as it should be is summed up, also while it is being written."""
    run(log, 1, 3, [1, 2, 3])
    run(log, 4, 4, [4])
    run(log, 5, 4, [])
    run(log, 1, 2, [1, 2], reset=1)
    log.add_note(1, 1, 2, "lamp", NOW)
    log.commit(NOW)
    assert found(path, "there") == [
        "board 'shed': 4 runs, 6 ticks, 1 boots",
        "from 2025-11-24T16:00:00.000Z to 2025-11-24T16:00:00.001Z",
        "1 notes, 0 greetings",
    ]
    assert found(path, "missing") == found(path, "wrong") == []


def test_ticks_that_a_gap_explains_are_missing_and_not_wrong(log: LogWriter, path: Path) -> None:
    """Ticks that were not traced are told with the reason."""
    run(log, 1, 9, [1, 2, 8, 9])
    log.add_gap(1, 0, 3, 7, "not traced", NOW)
    log.add_unplaced(1, 1, 40, "host was away", NOW)
    log.add_unplaced(1, 2, 0, "reset", NOW)
    log.commit(NOW)
    assert found(path, "missing") == [
        "boot 1, reset 0: ticks 3 to 7 (5 ticks) without a row: not traced",
        "boot 1, before reset 1: 40 ticks without a number: host was away",
        "boot 1, before reset 2: nobody knows how many ticks without a number: reset",
    ]
    assert found(path, "wrong") == []


def test_ticks_that_nothing_explains_are_wrong(log: LogWriter, path: Path) -> None:
    """Ticks absent at the beginning, in the middle or at the end of a run are named."""
    run(log, 1, 12, [2, 3, 5, 8, 9])
    run(log, 1, 2, [], reset=1)
    log.add_gap(1, 0, 6, 6, "log full", NOW)
    log.commit(NOW)
    assert found(path, "wrong") == [
        "boot 1, reset 0: tick 1 missing, and no gap says why",
        "boot 1, reset 0: tick 4 missing, and no gap says why",
        "boot 1, reset 0: tick 7 missing, and no gap says why",
        "boot 1, reset 0: ticks 10 to 12 (3 ticks) missing, and no gap says why",
        "boot 1, reset 1: ticks 1 to 2 (2 ticks) missing, and no gap says why",
    ]


def test_ticks_beyond_a_runs_last_are_wrong(log: LogWriter, path: Path) -> None:
    """Ticks that no run made are counted."""
    run(log, 3, 4, [1, 3, 4, 5, 6])
    log.add_tick(2, 7, 1, 0, 0, 0, 0)
    log.commit(NOW)
    assert found(path, "wrong") == [
        "boot 1, reset 0: 1 ticks of no run, from tick 1 to 1",
        "boot 1, reset 0: 2 ticks of no run, from tick 5 to 6",
        "boot 2, reset 7: 1 ticks of no run, from tick 1 to 1",
    ]


def test_what_overlaps_is_wrong(log: LogWriter, path: Path) -> None:
    """A tick belongs to one run and to one gap at most."""
    run(log, 1, 5, [1, 2])
    run(log, 5, 6, [6])
    log.add_gap(1, 0, 3, 4, "not traced", NOW)
    log.add_gap(1, 0, 4, 5, "log full", NOW)
    log.commit(NOW)
    assert found(path, "wrong") == [
        "boot 1, reset 0, run 2 (step 2): tick 5 also in an earlier run",
        "boot 1, reset 0: tick 4 in two gaps",
    ]


def test_an_open_run_and_a_run_that_ends_before_it_begins_are_wrong(log: LogWriter, path: Path) -> None:
    """A run without an end, and a run with an impossible one, are told by what was asked."""
    log.end_run(log.start_run(1, 0, 5, "burst 2", NOW), 2, "halt line", NOW)
    log.start_run(1, 0, 6, "run", NOW)
    log.add_tick(1, 0, 6, 0, 0, 0, 0)
    log.commit(NOW)
    assert found(path, "wrong") == [
        "boot 1, reset 0, run 1 (burst 2): ends at tick 2, before its first, 5",
        "boot 1, reset 0, run 2 (run): still open; right only while a program is logging",
    ]


@pytest.mark.fault(
    "log",
    "a tick that came twice with other values",
    "both, by `log check`",
)
def test_a_tick_that_came_twice_with_other_values_is_told_with_both(log: LogWriter, path: Path) -> None:
    """A conflict is told with what was kept and what came later."""
    run(log, 1, 1, [1])
    log.add_tick(1, 0, 1, 0, 9, 1, 2)
    log.commit(NOW)
    assert found(path, "wrong") == [
        "boot 1, reset 0: tick 1 came twice: late 0 kept, 9 came later, flags 0 kept, 2 came later"
    ]


def test_time_that_goes_back_is_wrong(log: LogWriter, path: Path) -> None:
    """The board's time never goes back within a boot, not over a reset either; a restart sets it to 0."""
    run(log, 1, 0, [])
    rows = [(1, 0, 1, 500), (1, 0, 2, 400), (1, 1, 1, 399), (1, 1, 2, 399), (2, 0, 1, 5)]
    log.add_ticks((boot, reset, tick, 0, 0, time_us, 0) for boot, reset, tick, time_us in rows)
    log.commit(NOW)
    assert [text for text in found(path, "wrong") if "time" in text] == [
        "boot 1, reset 0: at tick 2 the board's time goes back from 500 us to 400 us",
        "boot 1, reset 1: at tick 1 the board's time goes back from 400 us to 399 us",
    ]


def test_edges_on_the_pin_and_tick_numbers_go_up_alike(log: LogWriter, path: Path) -> None:
    """Two greetings between which the pin made more edges than there were ticks do not add up."""
    log.greet(1, 0, 10, 100, {}, NOW)
    log.greet(1, 0, 20, 110, {}, NOW)
    log.greet(1, 0, 30, 121, {}, NOW)
    log.greet(1, 1, 0, 121, {}, NOW)
    log.commit(NOW)
    assert found(path, "wrong") == ["boot 1, reset 0: 11 edges but 10 ticks between the greetings at ticks 20 and 30"]


def test_damage_is_told_with_where_and_how_much(log: LogWriter, path: Path) -> None:
    """Bytes that were no line are shown."""
    log.add_damage(b"tk 4\xff", 0, NOW)
    log.add_damage(b"?", 2, NOW, 1, 0, 77)
    log.commit(NOW)
    assert found(path, "wrong") == [
        "before any greeting, 5 bytes that are no line: b'tk 4\\xff'",
        "boot 1, reset 0: near tick 77, 1 bytes that are no line, 2 lines missing: b'?'",
    ]


def test_many_findings_of_a_sort_are_counted(log: LogWriter, path: Path) -> None:
    """A log with every second tick absent does not flood the screen."""
    run(log, 1, 99, list(range(1, 100, 2)))
    wrong = found(path, "wrong")
    assert len(wrong) == 21
    assert wrong[-1] == "... and 29 more like the last"


@pytest.mark.fault(
    "log",
    "a log with damaged bytes",
    "`log check` says so",
)
def test_a_damaged_file_is_told_as_such(tmp_path: Path) -> None:
    """Wherever the disk spoils a log, checking it says so or finds it sound; it never ends in a traceback."""
    whole = tmp_path / "whole.sqlite3"
    with LogWriter.open(whole, "shed", NOW) as log:
        log.greet(1, 0, 0, 0, {"firmware": "1"}, NOW)
        run(log, 1, 2000, list(range(1, 2001)))
    content = whole.read_bytes()
    chance = random.Random(5)
    told = 0
    for number in range(30):
        spoiled = bytearray(content)
        at = chance.randrange(100, len(spoiled) - 200)
        spoiled[at : at + 200] = chance.randbytes(200)
        path = tmp_path / f"{number}.sqlite3"
        path.write_bytes(spoiled)
        try:
            told += bool(found(path, "wrong"))
        except LogError:
            told += 1
    assert told > 5


_SPANS = st.lists(st.tuples(st.integers(0, 30), st.integers(0, 30)))


def numbers(spans: list[tuple[int, int]]) -> set[int]:
    """Give the ticks of spans one by one."""
    return {tick for first, last in spans for tick in range(first, last + 1)}


@given(_SPANS, _SPANS)
def test_spans_are_the_sets_they_stand_for(spans: list[tuple[int, int]], taken: list[tuple[int, int]]) -> None:
    """Merging keeps every tick once, and cutting leaves exactly the ticks that were not cut."""
    whole, cut = merged(spans), merged(taken)
    assert numbers(whole) == numbers(spans)
    assert all(before[1] + 1 < after[0] for before, after in itertools.pairwise(whole))
    assert numbers(list(without(whole, cut))) == numbers(spans) - numbers(taken)
