"""The benchmarks' frame: every topic can be run and has its place on the page. No test asserts how fast anything is."""

from __future__ import annotations

import importlib
import platform
from pathlib import Path

import pytest
from benchmarks import page
from benchmarks.__main__ import PAGE, TOPICS, main
from benchmarks.rows import Row, per_second, seconds


@pytest.mark.parametrize("name", TOPICS)
def test_every_topic_can_be_run_and_has_its_place_on_the_page(name: str) -> None:
    """A topic is a module with a title, a note and rows, and its marks are on the page."""
    topic = importlib.import_module(f"benchmarks.{name}")
    assert topic.TITLE
    assert topic.NOTE
    assert callable(topic.rows)
    assert PAGE.read_text(encoding="utf-8").count(f"<!-- measured: {name} -->\n") == 1


def test_a_topic_that_is_none_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    """A slip of the pen measures nothing, and says what there is to measure."""
    assert main(["wires"]) == 2
    assert "no topic wires; there are start_up, wire" in capsys.readouterr().err


def test_what_was_measured_replaces_what_stood_there(tmp_path: Path) -> None:
    """A topic's part of the page is rewritten, and nothing else of it."""
    sheet = tmp_path / "page.md"
    sheet.write_text("a\n<!-- measured: one -->\nold\n<!-- end -->\n<!-- measured: two -->\n<!-- end -->\n")
    page.put(sheet, "one", "new\n")
    assert sheet.read_text() == "a\n<!-- measured: one -->\nnew\n<!-- end -->\n<!-- measured: two -->\n<!-- end -->\n"
    with pytest.raises(ValueError, match="no place for what was measured of three"):
        page.put(sheet, "three", "new\n")


def test_works_take_turns_and_each_has_its_own_median() -> None:
    """Two works timed together run one after the other, as often as asked, each with the median of its own times."""
    order: list[str] = []
    times = iter([0, 5, 5, 6, 6, 8, 8, 10, 10, 11, 11, 12])
    taken = seconds(lambda: order.append("a"), lambda: order.append("b"), runs=3, clock=lambda: float(next(times)))
    assert order == ["a", "b"] * 3
    assert taken == [2.0, 1.0]


def test_a_row_is_written_with_as_many_digits_as_count() -> None:
    """Figures and ratios have three digits at most, and their units."""
    row = Row("x", per_second(1_234_567), "y", 12.34, 5, "at most 20")
    assert page.cells(row) == ("x", "1.23 M ticks/s", "y", "12", "at most 20", "5")


def test_the_computer_is_described_without_its_name() -> None:
    """What is written of the computer is what matters to speed, and no name and no path."""
    told = page.computer()
    assert "Python" in told
    assert "/" not in told
    assert platform.node() not in told
