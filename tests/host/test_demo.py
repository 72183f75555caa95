"""The demonstration and the look into its log, as a newcomer runs them."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


def handtick(*words: str, folder: Path) -> subprocess.CompletedProcess[str]:
    """Runs the command line in a folder."""
    return subprocess.run(
        [sys.executable, "-c", "from handtick.cli import main; main()", *words],
        cwd=folder,
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder in which the demonstration has run once."""
    folder = tmp_path_factory.mktemp("demo")
    shown = handtick("demo", "--quick", folder=folder)
    assert shown.returncode == 0, shown.stderr
    (folder / "shown.txt").write_text(shown.stdout, encoding="utf-8")
    return folder


def test_demo_prints_every_tick_and_how_it_ended(folder: Path) -> None:
    """One line a tick, numbered from 1 without a hole, and at the end the halt, its tick and the log's place."""
    shown = (folder / "shown.txt").read_text(encoding="utf-8")
    rows = [
        int(row[1]) for row in re.finditer(r"^ {0,4}(\d+)  \w+ .*[0-9A-F]{2}     [0-9A-F]{2}  ", shown, re.MULTILINE)
    ]
    assert rows == list(range(1, 139))
    assert "4 presses, in which the contact closed 17 times: 4 ticks." in shown
    assert "Larch halted at tick 138: the machine asserted its halt line. Its lamp is lit: a wet week." in shown
    assert "handtick log show --log demo.sqlite3" in shown.splitlines()[-1]


def test_readme_shows_what_the_demo_prints(folder: Path) -> None:
    """The lines the README shows of the demonstration are lines it prints."""
    shown = (folder / "shown.txt").read_text(encoding="utf-8").splitlines()
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    sample = [
        line[4:] for line in readme.splitlines() if re.match(r"     *(tick  giver|\d+  program|\d+  gauge)", line)
    ]
    assert len(sample) == 3
    assert set(sample) <= set(shown)


def test_log_show_shows_the_ticks_of_the_demo(folder: Path) -> None:
    """The log holds every tick of the demonstration and why each run stopped."""
    shown = handtick("log", "show", "--log", "demo.sqlite3", folder=folder)
    assert shown.returncode == 0
    assert "run 25: ticks 5 to 138: the machine asserted its halt line" in shown.stdout
    assert len(re.findall(r"^ +1      1  +\d+ +[0-9A-F]{4} +[0-9A-F]{4} ", shown.stdout, re.MULTILINE)) == 138
    assert "gap" not in shown.stdout
    assert "damage" not in shown.stdout


def test_log_show_shows_the_end_alone_when_asked(folder: Path) -> None:
    """With --last only so many ticks are shown."""
    shown = handtick("log", "show", "--last", "3", "--log", "demo.sqlite3", folder=folder)
    assert len(re.findall(r"^ +1      1  +\d+ ", shown.stdout, re.MULTILINE)) == 3


def test_demo_run_again_is_another_start_of_the_board(tmp_path: Path) -> None:
    """A second demonstration into the same log is kept beside the first."""
    for _ in range(2):
        assert handtick("demo", "--quick", "--log", "twice.sqlite3", folder=tmp_path).returncode == 0
    shown = handtick("log", "show", "--log", "twice.sqlite3", folder=tmp_path).stdout
    assert "boot 1, reset 1: run 25" in shown
    assert "boot 2, reset 1: run 25" in shown


@pytest.mark.parametrize(
    ("words", "status", "says"),
    [
        (["log", "show", "--log", "nowhere.sqlite3"], 7, "nowhere.sqlite3"),
        (["log", "show", "--log", "."], 7, "there is no log"),
        (["log", "show", "--last", "0"], 2, "--last"),
        (["log", "show", "--last", "x"], 2, "--last"),
        (["demo", "--fast"], 2, "--fast"),
        (["dmeo"], 2, "dmeo"),
        (["demo", "--quick", "--log", "no/such/folder.sqlite3"], 7, "folder"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, list) else None,
)
def test_mistakes_are_told_in_words(words: list[str], status: int, says: str, tmp_path: Path) -> None:
    """A mistake ends with a status of its own and says which word was wrong; never with a traceback."""
    shown = handtick(*words, folder=tmp_path)
    assert shown.returncode == status, shown.stderr
    assert says in shown.stderr
    assert "Traceback" not in shown.stderr


@pytest.mark.parametrize("words", [["--board", "virtual"], ["--wiring", "w.toml"], ["--json"], ["--quiet"]])
def test_demo_refuses_what_it_has_no_use_for(words: list[str], tmp_path: Path) -> None:
    """It has a machine of its own and prints for people: nothing else is taken without being heeded."""
    shown = handtick("demo", "--quick", *words, folder=tmp_path)
    assert (shown.returncode, shown.stdout) == (2, "")
    assert shown.stderr.startswith(f"handtick: {words[0]}: the demonstration clocks its own machine")
    assert shown.stderr.count("\n") == 1
    assert list(tmp_path.iterdir()) == []
