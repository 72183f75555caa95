"""A log in place of a board: what it lacks is told and passed over, and a damaged one ends nothing in silence."""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from handtick.classroom.replay import Replay
from handtick.errors import HandtickError
from handtick.events import Answer, Event, Gap, Greeting, ResetDone, State, Tick
from handtick.log import LogReader, LogWriter
from handtick_wire import reasons
from tests.classroom.a_class import wait_until

PAGE_BYTES = 4096


class Told:
    """Writes down what it is told."""

    def __init__(self) -> None:
        self.events: list[Event] = []
        self.said: list[str] = []
        self.lost: list[str] = []
        self.say = self.said.append
        self.lose = self.lost.append
        self.take = self.events.append

    def ticks(self) -> list[int]:
        """Numbers of the ticks that were shown."""
        return [event.tick for event in self.events if isinstance(event, Tick)]

    def gaps(self) -> list[tuple[int, int]]:
        """Ticks that were said to be missing."""
        return [(event.first, event.last) for event in self.events if isinstance(event, Gap)]

    def rests(self) -> list[tuple[int, int, str]]:
        """Each time the clock came to rest: at which tick and edge count, and why."""
        return [
            (event.tick, event.edges, event.why)
            for event in list(self.events)
            if isinstance(event, State) and event.mode == "rest"
        ]


def logged(path: Path, *ticks: int) -> Path:
    """A log with these ticks."""
    with LogWriter.open(path, "somebody's", 0) as log:
        log.greet(1, 0, 0, 0, {}, 0)
        run = log.start_run(1, 0, 1, "run", 0)
        log.add_ticks([(1, 0, tick, tick % 999, tick % 777, tick * 1000, 0) for tick in ticks])
        for before, after in itertools.pairwise(ticks):
            if after > before + 1:
                log.add_gap(1, 0, before + 1, after - 1, "link", 0)
        log.end_run(run, ticks[-1], "count", 0)
    return path


@contextmanager
def shown(path: Path) -> Iterator[tuple[Replay, Told]]:
    """The log being shown."""
    told = Told()
    replay = Replay(path, told)
    replay.start()
    try:
        yield replay, told
    finally:
        replay.stop()


def ask(replay: Replay, told: Told, kind: str, *values: int | str) -> tuple[int, int, str]:
    """Asks for ticks, and returns where the clock came to rest."""
    before = len(told.rests())
    replay.send(kind, *values)
    wait_until(lambda: len(told.rests()) > before)
    return told.rests()[-1]


@pytest.mark.fault(
    "class",
    "ticks missing in the log that is shown in place of a board",
    "which are missing; the next one it has is shown",
)
def test_a_step_goes_over_ticks_that_the_log_lacks(tmp_path: Path) -> None:
    """And says which are missing; the count of edges has them, for the machine had them."""
    with shown(logged(tmp_path / "log.sqlite3", 1, 2, 3, 7, 8)) as (replay, told):
        assert [ask(replay, told, "step", 1)[:2] for _ in range(5)] == [(1, 1), (2, 2), (3, 3), (7, 7), (8, 8)]
        assert told.ticks() == [1, 2, 3, 7, 8]
        assert told.gaps() == [(4, 6)]
        assert told.said == []
        assert ask(replay, told, "step", 1) == (8, 8, "")
        assert told.said == ["the log ends at tick 8"]


def test_a_log_that_begins_late_is_shown_from_where_it_begins(tmp_path: Path) -> None:
    """Its first tick comes with the first step."""
    with shown(logged(tmp_path / "log.sqlite3", 40, 41)) as (replay, told):
        assert ask(replay, told, "step", 1)[0] == 40
        assert told.gaps() == [(1, 39)]


def test_on_to_a_tick_that_the_log_lacks_ends_at_the_next_one(tmp_path: Path) -> None:
    """On to one that it has ends there; to the present one is there already; to an earlier one is refused."""
    with shown(logged(tmp_path / "log.sqlite3", 1, 2, 3, 7, 8, 9)) as (replay, told):
        assert ask(replay, told, "to", 2, "1000") == (2, 2, reasons.COUNT)
        assert ask(replay, told, "to", 5, "1000") == (7, 7, reasons.COUNT)
        assert ask(replay, told, "to", 7, "1000") == (7, 7, reasons.COUNT)
        assert told.ticks() == [1, 2, 3, 7]
        assert told.gaps() == [(4, 6)]
        replay.send("to", 3, "1000")
        wait_until(lambda: isinstance(told.events[-1], Answer))
        assert told.events[-1] == Answer(0, "refused", reasons.BEHIND, 7, 7)
        replay.send("reset")
        assert ask(replay, told, "to", 3, "1000")[0] == 3
        assert told.ticks() == [1, 2, 3, 7, 1, 2, 3]


def test_a_run_goes_over_ticks_that_the_log_lacks(tmp_path: Path) -> None:
    """To its end."""
    with shown(logged(tmp_path / "log.sqlite3", 1, 2, 5, 9)) as (replay, told):
        assert ask(replay, told, "run", "1000") == (9, 9, "")
        assert (told.ticks(), told.gaps()) == ([1, 2, 5, 9], [(3, 4), (6, 8)])


@pytest.mark.fault(
    "class",
    "the log that is shown in place of a board is damaged in the middle",
    "that it is damaged; what comes before can be shown again",
)
def test_a_log_that_is_damaged_in_the_middle_is_told_and_can_be_begun_again(tmp_path: Path) -> None:
    """The clock rests, the page says why, and a reset shows what comes before once more."""
    path = damaged(logged(tmp_path / "log.sqlite3", *range(1, 8001)))
    with shown(path) as (replay, told):
        rest = ask(replay, told, "run", "100000")
        wait_until(lambda: bool(told.lost))
        assert rest[0] == told.ticks()[-1] < 8000
        (lost,) = told.lost
        assert "it is damaged" in lost
        assert "\n" not in lost
        replay.send("halt")
        replay.send("reset")
        assert ask(replay, told, "to", 3, "1000")[0] == 3
        assert told.ticks()[-3:] == [1, 2, 3]
        assert [type(event) for event in told.events if isinstance(event, Greeting | ResetDone)] == [
            Greeting,
            Greeting,
            ResetDone,
        ]
        assert len(told.lost) == 1


def damaged(path: Path) -> Path:
    """The log with a page spoilt that has ticks of its middle."""
    good = path.read_bytes()
    for page in range(len(good) // PAGE_BYTES // 2, len(good) // PAGE_BYTES):
        spoilt = bytearray(good)
        spoilt[page * PAGE_BYTES : page * PAGE_BYTES + 200] = b"\xff" * 200
        path.write_bytes(spoilt)
        if _read(path) in range(100, 8000):
            return path
    raise AssertionError("no page has ticks of the middle")


def _read(path: Path) -> int:
    """How many ticks can be read before the damage, if the last one can be found at all."""
    count = 0
    try:
        with LogReader.open(path) as log:
            if log.last_key() == (1, 0, 8000):
                for _ in log.ticks(1, 0, 1):
                    count += 1
    except HandtickError:
        pass
    return count
