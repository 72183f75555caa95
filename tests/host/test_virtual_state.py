"""What virtual boards leave on this computer: boot numbers that never come twice, and where one is served."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from handtick.errors import HandtickError, Refused
from handtick.log import LogReader
from handtick.virtual.state import next_boot, served_port, tell_port, untell_port

START = [sys.executable, "-c", "from handtick.cli import main; main()"]


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The state folder, not made yet."""
    monkeypatch.setenv("HANDTICK_STATE", str(tmp_path / "state"))
    return tmp_path / "state"


def test_boot_numbers_count_on(folder: Path) -> None:
    """One after the other, each kind of board by itself, and nothing half-written stays behind."""
    first, pins = next_boot(), next_boot("pins")
    assert [next_boot(), next_boot(), next_boot("pins")] == [first + 1, first + 2, pins + 1]
    assert {path.name for path in folder.iterdir()} == {
        f"{kind}-boots{end}" for kind in ("virtual", "pins") for end in ("", ".lock")
    }


def test_count_of_an_earlier_handtick_goes_on(folder: Path) -> None:
    """A folder that is there already counts on from where it is."""
    folder.mkdir()
    (folder / "virtual-boots").write_text("7\n", encoding="ascii")
    assert [next_boot(), next_boot()] == [8, 9]


@pytest.mark.parametrize("left", [None, "", "1", "\N{BULLET}"], ids=["gone", "empty", "cut", "no number"])
def test_count_that_is_lost_begins_where_nobody_was(folder: Path, left: str | None) -> None:
    """A log outlives the folder: after it is lost or spoilt, no number comes again."""
    before = {next_boot() for _ in range(5)}
    if left is None:
        (folder / "virtual-boots").unlink()
    elif left == "1":
        # Cut off while it was written: it is the old one still.
        (folder / "virtual-boots.new").write_text(left, encoding="utf-8")
    else:
        (folder / "virtual-boots").write_text(left, encoding="utf-8")
    assert before.isdisjoint({next_boot() for _ in range(5)})


def test_boot_numbers_of_programs_at_once_differ(folder: Path) -> None:
    """Two commands that start at the same time get two numbers."""
    code = "from handtick.virtual.state import next_boot\nfor _ in range(200): print(next_boot())"
    begun = [subprocess.Popen([sys.executable, "-c", code], stdout=subprocess.PIPE, text=True) for _ in range(2)]
    boots = [int(boot) for each in begun for boot in each.communicate(timeout=60)[0].split()]
    assert len(boots) == len(set(boots)) == 400


@pytest.mark.fault(
    "log", "the folder of boot numbers is lost, and the log is not", "both runs, each under its own number"
)
def test_second_run_is_not_taken_for_the_first_where_the_folder_is_new(tmp_path: Path) -> None:
    """As in a container that is made anew each time: the log has both runs, and nothing came twice."""
    for number in (1, 2):
        env = {**os.environ, "HANDTICK_STATE": str(tmp_path / f"state{number}")}
        words = ["--board", "virtual", "--log", "log.sqlite3", "step", "3"]
        subprocess.run([*START, *words], cwd=tmp_path, env=env, capture_output=True, check=True, timeout=60)
    with LogReader.open(tmp_path / "log.sqlite3") as log:
        assert len(log.boots()) == 2
        assert [tick.tick for tick in log.all_ticks()] == [1, 2, 3] * 2
        assert list(log.conflicts()) == []


@pytest.mark.parametrize("words", ["--board virtual step", "virtual", "--board virtual:stuck:3=1 step"])
def test_folder_that_can_not_be_written_is_told_in_a_line(words: str, tmp_path: Path) -> None:
    """Which folder, why, and how to name another."""
    (tmp_path / "taken").write_text("", encoding="ascii")
    env = {**os.environ, "HANDTICK_STATE": str(tmp_path / "taken" / "state")}
    ended = subprocess.run(
        [*START, *words.split()], cwd=tmp_path, env=env, capture_output=True, text=True, check=False, timeout=60
    )
    assert ended.returncode == 1
    assert ended.stderr.count("\n") == 1, ended.stderr
    assert f"{str(tmp_path / 'taken' / 'state')!r} can't be written: not a directory" in ended.stderr
    assert "HANDTICK_STATE=FOLDER" in ended.stderr


def test_place_that_has_no_file_for_it_is_no_traceback(folder: Path) -> None:
    """A folder where the count should be is told as well."""
    (folder / "virtual-boots").mkdir(parents=True)
    with pytest.raises(HandtickError, match="can't be written: is a directory"):
        next_boot()


def test_served_board_is_found_until_its_word_is_taken_back(folder: Path) -> None:
    """Two that look at the same time both find it, and a second one is not served beside it."""
    assert served_port() is None
    tell_port("/dev/pts/99")
    try:
        assert [served_port(), served_port()] == ["/dev/pts/99"] * 2
        code = "from handtick.virtual.state import served_port, tell_port\nprint(served_port())\ntell_port('elsewhere')"
        ended = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False, timeout=60)
        assert ended.stdout == "/dev/pts/99\n"
        assert f"{Refused.__name__}: a virtual board is served already; stop that one first" in ended.stderr
        assert served_port() == "/dev/pts/99"
    finally:
        untell_port()
    assert served_port() is None
    untell_port()


def test_served_board_that_was_killed_is_not_looked_for(folder: Path) -> None:
    """Nor where another program has its process number by now."""
    code = "import os\nfrom handtick.virtual.state import tell_port\ntell_port('/dev/pts/99')\nos._exit(9)"
    assert subprocess.run([sys.executable, "-c", code], check=False, timeout=60).returncode == 9
    notice = folder / "virtual-port.json"
    notice.write_text(json.dumps({"port": "/dev/pts/99", "pid": os.getpid()}), encoding="utf-8")
    assert served_port() is None
    tell_port("/dev/pts/98")
    assert served_port() == "/dev/pts/98"
    untell_port()


@pytest.mark.parametrize("notice", ["", "[]", "{}", "7"])
def test_word_that_can_not_be_read_is_none(folder: Path, notice: str) -> None:
    """However it was spoilt."""
    tell_port("/dev/pts/99")
    (folder / "virtual-port.json").write_text(notice, encoding="utf-8")
    assert served_port() is None
    untell_port()
