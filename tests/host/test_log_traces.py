"""The samples that a log keeps side by side, a stretch of 1024 ticks together, are those of the rows."""

from __future__ import annotations

import contextlib
import sqlite3
from collections.abc import Sequence
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.log import LogReader, LogWriter
from handtick.log.check import check

Samples = Sequence[int | None]


def traces(path: Path) -> list[tuple[int, int, int]]:
    """Boot, reset and number of the stretches that are there."""
    with LogReader.open(path) as log:
        return [(boot, reset, stretch) for boot, reset, stretch, _, _ in log.query("SELECT * FROM trace")]


def told(path: Path) -> list[str]:
    """What the check of a log says of them."""
    return [finding.text for finding in check(path) if "trace" in finding.text]


def block(log: LogWriter, first: int, count: int, sample: int = 7, boot: int = 1) -> None:
    """Ticks in a row."""
    log.add_block(boot, 0, first, [sample] * count, [tick % 65536 for tick in range(count)], [0] * count, 0)


# Where some ticks begin, how many they are, their sample, as a block or one by one; then whether to commit, or to open
# the log anew.
pieces = st.tuples(
    st.integers(0, 3).flatmap(lambda stretch: st.integers(-2, 2).map(lambda off: max(1, 1024 * stretch + off))),
    st.sampled_from([1, 2, 500, 1023, 1024, 1025, 2500]),
    st.sampled_from([1, 1, 1, 2, 65535, 65536, None]),
    st.booleans(),
    st.sampled_from(["", "", "commit", "reopen"]),
)


@settings(max_examples=40)
@given(st.lists(pieces, max_size=6), st.booleans())
def test_a_trace_says_what_the_rows_say_however_ticks_came(
    came: list[tuple[int, int, int | None, bool, str]], in_order: bool
) -> None:
    """Twice, out of order, without samples or with wide ones, over commits and writers: never a wrong one."""
    with TemporaryDirectory() as folder:
        path = Path(folder) / "log.sqlite3"
        log = LogWriter.open(path, "shed", 0)
        after = 1
        for first, count, sample, as_block, then in came:
            begin = after if in_order else first
            if as_block and sample is not None:
                block(log, begin, count, sample)
            else:
                log.add_ticks((1, 0, begin + at, sample, at, 0, 0) for at in range(count))
            after = begin + count
            if then == "commit":
                log.commit(0)
            elif then == "reopen":
                log.close()
                log = LogWriter.open(path, "shed", 0)
        log.close()
        assert not told(path)
        if in_order and all(sample in range(65536) and then != "reopen" for _, _, sample, _, then in came):
            assert traces(path) == [(1, 0, stretch) for stretch in range(1, after // 1024)]


def test_a_stretch_goes_on_over_commits(tmp_path: Path) -> None:
    """Ticks in order are kept side by side however often they were committed; a stretch that was not whole is not."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", 0) as log:
        for first in range(1, 3500, 7):
            block(log, first, 7)
            log.commit(0)
        block(log, 2000, 2500, boot=2)
    assert traces(path) == [(1, 0, 1), (1, 0, 2), (2, 0, 2), (2, 0, 3)]


def test_ticks_that_were_there_before_are_no_trace(tmp_path: Path) -> None:
    """Where ticks come that the log has already, with other samples, those of the rows are kept and no others."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", 0) as log:
        block(log, 1500, 1, sample=9)
        log.commit(0)
        block(log, 1024, 700)
        log.commit(0)
        block(log, 1724, 400)
    assert traces(path) == []
    assert not told(path)


def test_check_says_where_a_comparison_would_be_wrong(tmp_path: Path) -> None:
    """Samples side by side that are not those of the rows, or have no rows, are told."""
    path = tmp_path / "log.sqlite3"
    with LogWriter.open(path, "shed", 0) as log:
        block(log, 1, 2047)
    with contextlib.closing(sqlite3.connect(path)) as other, other:
        other.execute("INSERT INTO trace SELECT boot, reset, 2, early, late FROM trace")
        other.execute("INSERT INTO trace VALUES (1, 0, 0, x'00', x'00')")
    assert told(path) == [
        f"boot 1, reset 0: the trace of ticks {first} to {last} (1024 ticks) is not what their rows say, "
        "and a comparison of runs is wrong there"
        for first, last in ((0, 1023), (2048, 3071))
    ]
