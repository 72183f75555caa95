"""A search in a log finds what a look at every tick finds."""

from __future__ import annotations

import contextlib
import sqlite3
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given
from hypothesis import strategies as st

from handtick.log import LogReader, LogWriter
from handtick.log.check import check
from handtick.log.rows import TickRow
from handtick.rules import Judge, read_rule
from handtick.rules.logged import logged_where
from handtick.wiring import Bus, Wiring

WIRING = Wiring((Bus("data", (0, 1)), Bus("fetch", (2,), inverted=True)))
RULES = (
    "data == 2",
    "data & 1 == 1 and fetch == 0",
    "early(data) == 3",
    "not (data < 3)",
    "data == 1 and tick > 1500",
    "rises(fetch) or data == 3",
    "tick == 1024",
)

samples = st.lists(st.tuples(st.integers(0, 7), st.integers(0, 7)), min_size=1, max_size=6)
# Where a row of ticks begins: near the seams of the stretches, so that rows cross them or leave some out.
places = st.tuples(st.integers(1, 2), st.integers(0, 1), st.integers(0, 4), st.integers(-4, 4), samples, st.booleans())


@given(rows=st.lists(places, max_size=5), rule=st.sampled_from(RULES))
def test_a_search_finds_what_a_look_at_every_tick_finds(
    rows: list[tuple[int, int, int, int, list[tuple[int, int]], bool]], rule: str
) -> None:
    """Whatever is logged, as blocks or tick by tick, and whatever is looked for: the same ticks, in the same order."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite3"
        with LogWriter.open(path, "shed", 0) as log:
            for boot, reset, stretch, off, pairs, as_block in rows:
                _write(log, boot, reset, max(1, stretch * 1024 + off), pairs, as_block)
        read = read_rule(rule, WIRING)
        with LogReader.open(path) as log:
            assert list(logged_where(log, read)) == list(filter(Judge(read).logged, log.all_ticks()))
        assert not [finding for finding in check(path) if "search" in finding.text]


@given(rows=st.lists(places, max_size=5), count=st.integers(1, 12))
def test_the_last_ticks_are_the_end_of_all_ticks(
    rows: list[tuple[int, int, int, int, list[tuple[int, int]], bool]], count: int
) -> None:
    """However the ticks lie over boots and resets, the last so many are those that a whole listing ends with."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite3"
        with LogWriter.open(path, "shed", 0) as log:
            for boot, reset, stretch, off, pairs, as_block in rows:
                _write(log, boot, reset, max(1, stretch * 1024 + off), pairs, as_block)
        with LogReader.open(path) as log:
            assert log.last_ticks(count) == list(log.all_ticks())[-count:]


def _write(log: LogWriter, boot: int, reset: int, first: int, pairs: list[tuple[int, int]], as_block: bool) -> None:
    early, late = zip(*pairs, strict=True)
    if as_block:
        log.add_block(boot, reset, first, early, late, [0] * len(pairs), 0)
        return
    rows: list[TickRow] = [(boot, reset, first + at, *pair, 0, 0) for at, pair in enumerate(pairs)]
    log.add_ticks(rows)


def test_ticks_in_a_row_may_lie_in_two_stretches(tmp_path: Path) -> None:
    """Where a value is held over the seam of two stretches, the row of ticks is counted through."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", 0) as log:
        _write(log, 1, 0, 1020, [(2, 2)] * 8, True)
        _write(log, 1, 0, 5000, [(2, 2)], True)
    with LogReader.open(path) as log:
        found = [tick.tick for tick in logged_where(log, read_rule("data == 2 for 7 ticks", WIRING))]
    assert found == [1026, 1027]


def test_check_says_where_a_search_would_miss_something(tmp_path: Path) -> None:
    """A log to which another program added a tick is told to be one that a search misses ticks of."""
    path = tmp_path / "log.sqlite3"
    LogWriter.open(path, "shed", 0).close()
    with contextlib.closing(sqlite3.connect(path)) as other, other:
        other.execute("INSERT INTO tick VALUES (1, 0, 7, 1, 2, 0, 0)")
    told = [finding.text for finding in check(path) if "search" in finding.text]
    assert [text.split(":")[0] for text in told] == [
        "a search misses the early samples of 1 ticks, such as tick 7",
        "a search misses the late samples of 1 ticks, such as tick 7",
    ]
