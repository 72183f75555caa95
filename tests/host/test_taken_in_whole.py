"""What was heard is taken in whole, whatever the log or the user does in the middle of it."""

from __future__ import annotations

import signal
import sqlite3
import time
from collections.abc import Sequence
from pathlib import Path

import pytest

from handtick.bench import Bench
from handtick.cli.clock import _ended
from handtick.errors import LogError, StoppedEarly
from handtick.events import Event, State, Tick
from handtick.links.virtual import VirtualLink
from handtick.log import LogReader, LogWriter
from handtick.log.check import check
from handtick.opening import open_link
from handtick.recorder import Recorder
from handtick.uninterrupted import uninterrupted
from handtick.virtual.larch_board import larch_board
from handtick.wiring import Wiring

NOW_NS = 1_764_000_000_000_000_000
SECOND_NS = 1_000_000_000


class InOneGo(VirtualLink):
    """A link whose one read brings all that came for a while; sends Ctrl-C in a read, where asked to."""

    ctrl_c = 0
    ctrl_c_after = b""
    written = b""

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""
        self.written = data
        super().write(data)

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``."""
        data = b"".join(super(InOneGo, self).read(timeout_s / 40) for _ in range(40))
        if self.ctrl_c and data:
            self.ctrl_c -= 1
            signal.raise_signal(signal.SIGINT)
        if self.ctrl_c_after and self.ctrl_c_after in self.written:
            self.ctrl_c_after = b""
            signal.raise_signal(signal.SIGINT)
        return data


class CtrlCWhileLogging(LogWriter):
    """A log that is interrupted at every tick, or row of ticks."""

    def add_block(
        self,
        boot: int,
        reset: int,
        first: int,
        early: Sequence[int],
        late: Sequence[int],
        times_us: Sequence[int],
        flags: int,
    ) -> None:
        """See ``LogWriter.add_block``."""
        signal.raise_signal(signal.SIGINT)
        super().add_block(boot, reset, first, early, late, times_us, flags)


def logged(path: Path) -> list[int]:
    """The ticks of a log that adds up, runs and all."""
    assert [finding.text for finding in check(path) if finding.kind != "there"] == []
    with LogReader.open(path) as log:
        assert log.gaps() == []
        assert all(run.last_tick is not None for run in log.runs())
        return [tick.tick for tick in log.all_ticks()]


@pytest.mark.fault(
    "log",
    "another program holds the log in the middle of what was read at once",
    "an error; every tick goes in later",
)
def test_a_commit_that_fails_in_the_middle_of_a_read_costs_no_tick(tmp_path: Path) -> None:
    """All that came with the end of a run, of which the commit failed, goes in with the next commit."""
    path = tmp_path / "log.sqlite3"
    with open_link(InOneGo(larch_board()), path, Wiring()) as bench:
        bench.step(3)
        assert bench._recorder is not None
        bench._recorder._log._committed_ns = 0  # a second has passed
        other = sqlite3.connect(path, isolation_level=None)
        other.execute("BEGIN IMMEDIATE")
        with pytest.raises(LogError, match=r"another program holds it.* rows wait in memory"):
            bench.step(5)
        assert bench.log_is_behind
        other.execute("ROLLBACK")
        other.close()
        bench.step(2)
        assert not bench.log_is_behind
    assert logged(path) == list(range(1, 11))


def test_rows_that_went_in_at_the_end_are_not_said_to_wait(tmp_path: Path) -> None:
    """A program that ends because a commit failed says that what waited is in the log, where it is."""
    path, away = tmp_path / "log.sqlite3", tmp_path / "away"

    def step() -> None:
        with open_link(VirtualLink(larch_board()), path, Wiring()) as bench:
            path.rename(away)
            try:
                bench.step(3)
            finally:
                away.rename(path)

    with pytest.raises(LogError, match=r"put it back \(\d rows wait in memory\); they went in as the log was closed"):
        step()
    assert logged(path) == [1, 2, 3]


def test_a_run_whose_end_could_not_be_written_ends_once(tmp_path: Path) -> None:
    """After a commit that failed at a run's end, the next run begins, and the log has both."""
    path, away = tmp_path / "log.sqlite3", tmp_path / "away"
    with open_link(VirtualLink(larch_board()), path, Wiring()) as bench:
        bench.run("20")
        path.rename(away)
        with pytest.raises(LogError, match="put it back"):
            bench.halt()
        away.rename(path)
        bench.step(2)
        bench.step(2)
    with LogReader.open(path) as log:
        assert [run.asked for run in log.runs()] == ["run:20", "step:2", "step:2"]
    assert logged(path)


@pytest.mark.parametrize("last", ["rest", "moving"])
def test_what_a_failed_commit_interrupts_is_gone_on_with(tmp_path: Path, last: str) -> None:
    """The state that ends one run and begins the next does both, though the log can't be written at that moment."""
    path, away = tmp_path / "log.sqlite3", tmp_path / "away"
    log = LogWriter.open(path, "shed", NOW_NS)
    recorder = Recorder(log)
    path.rename(away)
    events: list[Event] = [State(3, 0, 0, 0, "moving", "asked", "run:2", 0)]
    events += [Tick(3, 0, 1, 0, 0, 1000, 0), State(3, 0, 1, 1, "moving", "asked", "run:3", 1000)]
    events += [Tick(3, 0, 2, 0, 0, 2000, 0)]
    events += [State(3, 0, 2, 2, "rest", "halted", "run:3", 2000)] if last == "rest" else []
    with pytest.raises(LogError, match=r"\(\d rows wait in memory\)"):
        recorder.take_all(events, NOW_NS)
    away.rename(path)
    recorder.stop("the host closed the connection", NOW_NS)
    log.close()
    with LogReader.open(path) as reader:
        assert [(run.asked, run.first_tick, run.last_tick) for run in reader.runs()] == [
            ("run:2", 1, 1),
            ("run:3", 2, 2),
        ]
    assert logged(path) == [1, 2]


@pytest.mark.fault(
    "person",
    "Ctrl-C in the moment in which ticks are read",
    "all of them are in the log",
)
def test_ctrl_c_while_ticks_are_read_loses_none(tmp_path: Path) -> None:
    """What was read when Ctrl-C came is logged and told before the command ends."""
    path, told = tmp_path / "log.sqlite3", []
    link = InOneGo(larch_board())
    with open_link(link, path, Wiring(), told.append) as bench:
        link.ctrl_c = 1
        with pytest.raises(StoppedEarly, match="interrupted: the clock rests at tick 20"):
            _ended(bench, lambda: bench.ask("step", 20, keep=False))
    assert logged(path) == list(range(1, 21))
    assert [event.tick for event in told if isinstance(event, Tick)] == list(range(1, 21))


def test_ctrl_c_while_ticks_are_logged_loses_none(tmp_path: Path) -> None:
    """Ctrl-C waits until the log has taken all that was read, however often it is pressed."""
    path = tmp_path / "log.sqlite3"
    bench = Bench(VirtualLink(larch_board()))
    bench.open()
    log = CtrlCWhileLogging.open(path, "shed", time.time_ns())
    bench.log_to(Recorder(log), log.close)
    interrupted = 0
    bench.send("step", 20)
    while bench.tick < 20:
        try:
            bench.listen(0.1)
        except KeyboardInterrupt:
            interrupted += 1
    bench.close()
    assert interrupted
    assert logged(path) == list(range(1, 21))


@pytest.mark.fault(
    "person",
    "Ctrl-C twice",
    "that nobody waited until the clock rested; the log is whole",
)
def test_second_ctrl_c_says_that_nobody_waited(tmp_path: Path) -> None:
    """Whoever does not want to wait until a slow clock rests is told so in a sentence, and the log is closed."""
    path = tmp_path / "log.sqlite3"
    link = InOneGo(larch_board())
    with open_link(link, path, Wiring()) as bench:
        link.ctrl_c = 2
        with pytest.raises(StoppedEarly, match=r"interrupted twice: .*`handtick status` says where it rests"):
            _ended(bench, lambda: bench.ask("burst", 1000, "20", keep=False))
    assert logged(path)


def test_ctrl_c_in_the_goodbye_takes_no_word_from_what_was_to_be_said(tmp_path: Path) -> None:
    """Where the clock rests is said although Ctrl-C is pressed once more while the log is being closed."""
    path = tmp_path / "log.sqlite3"
    link = InOneGo(larch_board())

    def step() -> None:
        with open_link(link, path, Wiring()) as bench:
            link.ctrl_c, link.ctrl_c_after = 1, b" bye "
            _ended(bench, lambda: bench.ask("step", 20, keep=False))

    with pytest.raises(StoppedEarly, match="the clock rests at tick 20"):
        step()
    assert not link.ctrl_c_after
    assert logged(path) == list(range(1, 21))


def test_ctrl_c_in_another_block_takes_effect_at_the_end_of_the_outer() -> None:
    """Blocks in blocks are one block."""
    done = []

    def inner() -> None:
        with uninterrupted():
            signal.raise_signal(signal.SIGINT)
            done.append("inner")

    def outer() -> None:
        with uninterrupted():
            inner()
            done.append("outer")

    with pytest.raises(KeyboardInterrupt):
        outer()
    assert done == ["inner", "outer"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_rows_are_in_the_file_a_second_later_though_nothing_more_comes(tmp_path: Path) -> None:
    """A row does not wait for the next one: a slow clock's last tick is in the log while nothing comes."""
    path = tmp_path / "log.sqlite3"
    with open_link(VirtualLink(larch_board()), path, Wiring()) as bench:
        bench.step(1)
        assert bench._recorder is not None
        log = bench._recorder._log
        log.add_note(1, 0, 1, "just after a commit", time.time_ns())
        log._committed_ns = 0  # a second has passed
        assert bench.listen(0.1) == []
        assert log.pending == 0


def test_what_no_log_is_to_have_takes_no_memory() -> None:
    """Without a log, neither ticks that nobody keeps nor answers that nobody waits for pile up."""
    with Bench(VirtualLink(larch_board())) as bench:
        bench.ask("ignore_halt", 1000)
        bench.ask("step", 500, keep=False)
        for _ in range(50):
            bench.send("rate", "10")
            bench.listen(0.01)
        bench.run("1000")
        bench.listen(0.25)
        assert not bench._unlogged
        assert not bench._answers
        assert not bench._untold


def test_a_log_that_is_full_from_the_start_says_what_is_lost(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where the program ends because the first rows can't be written, they are lost and do not wait in memory."""
    path = tmp_path / "log.sqlite3"
    LogWriter.open(path, "virtual-bench", NOW_NS).close()
    opens = LogWriter.open

    def full(path: Path, board_id: str, now_ns: int) -> LogWriter:
        log = opens(path, board_id, now_ns)
        (pages,) = log._connection.execute("PRAGMA page_count").fetchone()
        log._connection.execute(f"PRAGMA max_page_count = {pages}")
        log._waiting.add("note", 1, 0, 0, "long" * 5000, now_ns)
        return log

    monkeypatch.setattr(LogWriter, "open", full)
    with pytest.raises(LogError, match=r"the disk is full.*\(2 rows are lost\)"):
        open_link(VirtualLink(larch_board()), path, Wiring())
    monkeypatch.undo()
    LogWriter.open(path, "virtual-bench", NOW_NS).close()
