"""`handtick share` as it is typed: what it prints, whom it lets in, and how it ends."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from handtick.log import LogReader
from tests.classroom.a_class import LARCH, LESSON_FILE, Page

START = [sys.executable, "-c", "from handtick.cli import main; main()"]


def started(folder: Path, *words: str, start: list[str] = START) -> subprocess.Popen[str]:
    """The command, which goes on."""
    return subprocess.Popen(
        [*start, "share", "--board", "virtual", "--wiring", str(LARCH), "--port", "0", "--json", *words],
        cwd=folder,
        env={**os.environ, "HANDTICK_STATE": str(folder / "state")},
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )


@pytest.fixture
def command(tmp_path: Path) -> Iterator[tuple[subprocess.Popen[str], dict[str, Any]]]:
    """A class on the built-in board, and what it printed."""
    process = started(tmp_path, "--lesson", str(LESSON_FILE))
    assert process.stdout is not None
    yield process, json.loads(process.stdout.readline())
    process.kill()
    process.communicate()


def page(printed: dict[str, Any], **first: str) -> Page:
    """A page at the printed address."""
    port = int(printed["addresses"][0].rstrip("/").rpartition(":")[2])
    return Page(SimpleNamespace(port=port), first)


def test_what_is_printed_is_what_is_needed(command: tuple[subprocess.Popen[str], dict[str, Any]]) -> None:
    """The address has the page, the room word lets in, the teacher's link drives."""
    _, printed = command
    with urllib.request.urlopen(printed["addresses"][0]) as answer:
        assert b"<title>handtick</title>" in answer.read()
    mira = page(printed, do="join", name="Mira", word=printed["room_word"])
    teacher = page(printed, do="teach", word=printed["teacher"].partition("#teach=")[2])
    teacher.hear(lambda: teacher.told.get("clock", {}).get("there", False))
    teacher.ask(do="step")
    mira.hear(lambda: mira.tick() == 1)


def test_the_built_in_board_keeps_to_the_wall_clock(command: tuple[subprocess.Popen[str], dict[str, Any]]) -> None:
    """Ten ticks a second are ten ticks a second, for people who watch."""
    _, printed = command
    teacher = page(printed, do="teach", word=printed["teacher"].partition("#teach=")[2])
    teacher.hear(lambda: teacher.told.get("clock", {}).get("there", False))
    began = time.monotonic()
    teacher.ask(do="run", rate="10")
    teacher.hear(lambda: teacher.tick() >= 8)
    assert time.monotonic() - began >= 0.7


@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM])
def test_it_ends_when_asked_with_the_clock_at_rest_and_the_log_closed(
    command: tuple[subprocess.Popen[str], dict[str, Any]], tmp_path: Path, sent: signal.Signals
) -> None:
    """In the middle of a run: nothing is printed but what was, and the run's end is in the log."""
    process, printed = command
    teacher = page(printed, do="teach", word=printed["teacher"].partition("#teach=")[2])
    teacher.hear(lambda: teacher.told.get("clock", {}).get("there", False))
    teacher.ask(do="run", rate="20")
    teacher.hear(lambda: teacher.tick() >= 3)
    process.send_signal(sent)
    out, err = process.communicate(timeout=15)
    assert (process.returncode, out, err) == (0, "", "")
    with LogReader.open(tmp_path / "handtick.sqlite3") as log:
        runs = log.runs()
        assert runs[-1].why is not None
        assert runs[-1].last_tick == list(log.all_ticks())[-1].tick


def test_a_port_that_is_taken_is_one_line(
    command: tuple[subprocess.Popen[str], dict[str, Any]], tmp_path: Path
) -> None:
    """With what to do; the class that is there goes on."""
    _, printed = command
    port = printed["addresses"][0].rstrip("/").rpartition(":")[2]
    folder = tmp_path / "other"
    folder.mkdir()
    process = started(folder, "--port", port)
    _, err = process.communicate(timeout=60)
    assert process.returncode == 2
    assert err == f"handtick: --port {port}: address already in use; choose another, or 0 for any\n"


def test_several_boards_are_compared_with_what_a_lesson_expects(tmp_path: Path) -> None:
    """Each board's first differing tick; a healthy one has none."""
    env = {**os.environ, "HANDTICK_STATE": str(tmp_path / "state")}
    options = ["--wiring", str(LARCH)]
    for name, board in (("good", "virtual"), ("bad", "virtual:stuck:3=1")):
        # The faulty one soon halts by itself.
        run = [*START, "--board", board, "--log", f"{name}.sqlite3", *options, "run", "1000", "--for", "40", "--quiet"]
        subprocess.run(run, cwd=tmp_path, env=env, check=False, timeout=60)
    words = [*START, "lesson", str(LESSON_FILE), "good.sqlite3", "bad.sqlite3", "--json", *options]
    ended = subprocess.run(words, cwd=tmp_path, env=env, capture_output=True, text=True, check=False, timeout=60)
    good, bad = map(json.loads, ended.stdout.splitlines())
    assert (good["log"], good["compared"], good["tick"]) == ("good.sqlite3", 40, None)
    assert (bad["log"], bad["tick"]) == ("bad.sqlite3", 2)
    assert bad["lines"] == [["data", "00", "08"]]
    assert ended.returncode == 9
    assert "1 of 2 boards" in ended.stderr


def test_an_error_of_our_own_ends_the_class_and_is_seen(tmp_path: Path) -> None:
    """Not a page that stands still: the program ends, its log whole, and says what went wrong."""
    code = (
        "from handtick.classroom.news import News\n"
        "def slip(self): raise TypeError('a slip')\n"
        "News.since = slip\n"
        "from handtick.cli import main; main()"
    )
    process = started(tmp_path, start=[sys.executable, "-c", code])
    out, err = process.communicate(timeout=60)
    assert '"room_word"' in out
    assert process.returncode not in (0, None)
    assert "TypeError: a slip" in err
