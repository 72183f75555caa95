"""Lessons: files of stops, and what the buses should hold on the way."""

from __future__ import annotations

from pathlib import Path

import pytest

from handtick.classroom.lesson import Watcher, load_lesson
from handtick.errors import UsageError
from handtick.events import Tick
from handtick.wiring import Wiring
from tests.classroom.a_class import LESSON, WIRING

GOOD = 'title = "T"\n[[stop]]\ntick = 2\nsay = "What next?"\nask = "data"\n[[stop]]\ntick = 5\n'


def lesson(folder: Path, text: str) -> Path:
    """A lesson file."""
    path = folder / "lesson.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_a_lesson_is_read(tmp_path: Path) -> None:
    """Stops in order, with what is left out."""
    read = load_lesson(lesson(tmp_path, GOOD), WIRING)
    assert read.title == "T"
    assert [(stop.tick, stop.say, stop.ask) for stop in read.stops] == [(2, "What next?", "data"), (5, "", "")]
    assert read.expect is None


@pytest.mark.parametrize(
    ("text", "names"),
    [
        ("", "at least one [[stop]]"),
        ("title = x", "line 1"),
        ("titel = 'x'\n" + GOOD, "'titel'"),
        ("rate = 5\n" + GOOD, "rate is a text in quotes"),
        ("rate = 'fast'\n" + GOOD, "'fast'"),
        (GOOD + "ask = 'dada'\n", "stop 2: there is no bus 'dada'"),
        (GOOD + "[[stop]]\ntick = 5\n", "comes after the one before"),
        (GOOD + "[[stop]]\nsay = 'x'\n", "stop 3: the tick"),
        (GOOD + "[[stop]]\ntick = -1\n", "stop 3: the tick"),
        (GOOD + "[[stop]]\ntick = 18446744073709551616\n", "stop 3: the tick"),
        (GOOD + "[[stop]]\ntick = true\n", "tick is a whole number"),
        ("stop = [1]", "stop 1: a stop is a table"),
        ("expect = 'no.csv'\n" + GOOD, "no.csv"),
    ],
)
def test_a_lesson_that_makes_no_sense_is_refused_with_its_place(tmp_path: Path, text: str, names: str) -> None:
    """One line that says where and what."""
    with pytest.raises(UsageError) as refused:
        load_lesson(lesson(tmp_path, text), WIRING)
    assert names in str(refused.value)
    assert "\n" not in str(refused.value)


@pytest.mark.parametrize("name", ["no.toml", "."])
def test_a_lesson_that_is_not_there(tmp_path: Path, name: str) -> None:
    """Or is a folder."""
    with pytest.raises(UsageError):
        load_lesson(tmp_path / name, WIRING)


def test_a_bus_that_only_a_wiring_file_names_says_so(tmp_path: Path) -> None:
    """Without one there are bare probes: the usual mistake, and what to do about it."""
    with pytest.raises(UsageError, match="no bus 'data'; there are probes; name the wiring file with --wiring"):
        load_lesson(lesson(tmp_path, GOOD), Wiring())


def tick(number: int, early: int) -> Tick:
    """A tick with one sample."""
    return Tick(1, 0, number, early, early, 0, 0)


def sample(data: int, fetch: int) -> int:
    """Larch's probes."""
    return data | fetch << 15


def test_the_first_tick_that_differs_is_told_with_what_should_have_been() -> None:
    """What does not matter is not compared; later differences do not take the place of the first."""
    assert LESSON.expect is not None
    watcher = Watcher(LESSON.expect, WIRING)
    assert not watcher.take(tick(1, sample(0xED, 1)))
    assert not watcher.take(tick(2, sample(0x00, 0) | 5 << 8))
    assert watcher.difference is None
    assert watcher.take(tick(3, sample(0x08, 1)))
    assert not watcher.take(tick(4, sample(0xFF, 0)))
    assert watcher.difference == (3, (("data", "00", "08"), ("fetch", "0", "1")))
    assert watcher.compared == 4
    watcher.take(tick(41, 0))
    assert watcher.compared == 4
    watcher.restart()
    assert watcher.difference is None
