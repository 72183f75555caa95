"""Files of what should be: read as people and spreadsheets write them, and of one meaning to every command."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from handtick.classroom.lesson import load_lesson
from handtick.compare.files import read_followed, read_trace
from handtick.compare.trace import Row
from handtick.errors import UsageError
from handtick.wiring import Bus, Wiring, load_wiring

EXAMPLES = Path(__file__).parents[2] / "examples"
SHIPPED = sorted(EXAMPLES.rglob("*.csv")) + sorted(EXAMPLES.rglob("*.jsonl"))
LARCH = load_wiring(EXAMPLES / "larch.toml")
WIRING = Wiring((Bus("low", (0, 1, 2, 3)), Bus("high", (4, 5, 6, 7))))
SWEEP = "sweep --to 60 --from 100 --up-to 1kHz --times 1 --board virtual --expect"


def handtick(folder: Path, words: str) -> subprocess.CompletedProcess[str]:
    """A command in a folder with Larch's wiring."""
    env = {**os.environ, "HANDTICK_STATE": str(folder / "state")}
    start = [sys.executable, "-c", "from handtick.cli import main; main()"]
    where = ["--wiring", str(EXAMPLES / "larch.toml"), "--log", "log.sqlite3"]
    return subprocess.run(
        [*start, *words.split(), *where], cwd=folder, env=env, capture_output=True, text=True, check=False
    )


def rows_of(folder: Path, name: str, text: str | bytes, late: bool = False) -> list[tuple[int, int, int]]:
    """What is read out of a file: tick, bits and which of them count."""
    (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())
    return [tuple(row) for row in read_trace(folder / name, WIRING, late).rows]


def complaint(folder: Path, name: str, text: str | bytes, late: bool = False) -> str:
    """What is said of a file that can't be read."""
    with pytest.raises(UsageError) as caught:
        rows_of(folder, name, text, late)
    assert "\n" not in str(caught.value)
    assert len(str(caught.value)) < 200 + len(str(folder))
    return str(caught.value)


# What all commands make of the examples.


@pytest.fixture(scope="module")
def good_run(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the log of a whole healthy run, and the shipped files."""
    folder = tmp_path_factory.mktemp("good")
    for path in SHIPPED:
        shutil.copy(path, folder)
    assert handtick(folder, "run 1000 --for 100 --board virtual --quiet").returncode == 0
    return folder


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
@pytest.mark.parametrize(
    "words",
    ["compare {file} {run}", "compare {run} {file}", "run 100 --expect {file} --board virtual", SWEEP + " {file}"],
)
def test_a_healthy_machine_is_right_by_every_shipped_file(path: Path, words: str, good_run: Path) -> None:
    """Whichever command reads it: all of its ticks are compared, and none differs."""
    run = json.loads(handtick(good_run, "log list --json").stdout.splitlines()[0])["run"]
    ended = handtick(good_run, words.format(file=path.name, run=run))
    assert ended.returncode == 0, ended.stderr
    if "sweep" not in words:
        assert f"{len(read_trace(path, LARCH).rows)} ticks" in ended.stdout


@pytest.mark.parametrize("path", SHIPPED, ids=lambda path: path.name)
def test_a_lesson_and_probes_read_every_shipped_file(path: Path, good_run: Path) -> None:
    """As the commands that compare do."""
    (good_run / "lesson.toml").write_text(f"expect = '{path.name}'\n[[stop]]\ntick = 1\n")
    assert load_lesson(good_run / "lesson.toml", LARCH).expect == read_trace(path, LARCH)
    ended = handtick(good_run, "lesson lesson.toml log.sqlite3 --json")
    assert ended.returncode == 0, ended.stderr
    assert json.loads(ended.stdout)["compared"] == len(read_trace(path, LARCH).rows)
    expected = f"probes --ticks 60 --through wires --board virtual --expect {path.name}"
    assert handtick(good_run, expected).returncode == 0


# Early and late samples.


@pytest.mark.parametrize(("name", "text"), [("a.csv", "tick,low\n1,5\n"), ("a.jsonl", '{"tick": 1, "low": 5}\n')])
def test_a_bare_name_is_an_early_sample_to_everybody(name: str, text: str, tmp_path: Path) -> None:
    """Who compares late samples is told that there are none, and how a column of them is called."""
    assert rows_of(tmp_path, name, text) == [(1, 5, 15)]
    assert read_followed(tmp_path / name, WIRING) == (read_trace(tmp_path / name, WIRING), False)
    assert "of low it has early samples alone" in complaint(tmp_path, name, text, late=True)
    assert "`low late`" in complaint(tmp_path, name, text, late=True)


def test_a_run_follows_late_samples_where_the_file_has_them_of_all(tmp_path: Path) -> None:
    """What goes wrong is seen there first; a file with some of each has no meaning."""
    both = tmp_path / "both.csv"
    both.write_text("tick,low early,low late\n1,5,6\n")
    trace, late = read_followed(both, WIRING)
    assert (late, trace.rows) == (True, (Row(1, 6, 15),))
    both.write_text("tick,low,high late\n1,5,6\n")
    with pytest.raises(UsageError, match="of high it has late samples alone, and of low early ones alone"):
        read_followed(both, WIRING)
    assert "of high it has late samples alone" in complaint(tmp_path, "a.csv", "tick,low,high late\n1,5,6\n")


def test_a_faulty_machine_rests_where_it_first_differs_by_early_samples(tmp_path: Path) -> None:
    """Run beside the shipped file, a line stuck at 1 is named at the first tick that captures it."""
    shutil.copy(EXAMPLES / "rain-tally.csv", tmp_path)
    ended = handtick(tmp_path, "run 100 --expect rain-tally.csv --board virtual:stuck:3=1")
    assert ended.returncode == 9
    assert "first difference at tick 2: data[3]" in ended.stdout


# Nothing compared.


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("tick,data\n", "it has no ticks"),
        ("tick,data\n1,x\n2,\n", "it says no value of data, giver, taker, fetch at any tick"),
        ("tick,foo\n1,2\n", "line 1: 'foo' names no bus of the wiring; there are data, giver, taker, fetch"),
        ("tick,data,fecth\n1,0xED,1\n", "line 1: 'fecth' names no bus"),
        ("tick,data late\n1,xx\n", "line 2: 'xx' is no value of data"),
        ("tick,data late\n1,999\n", "line 2: '999' is no value of data"),
        ("tick,data\n1000,0xED\n", "nothing of ticks 1 to"),
    ],
)
@pytest.mark.parametrize("words", ["run 100 --for 3 --board virtual --expect", SWEEP])
def test_a_machine_is_not_called_right_where_nothing_was_compared(
    text: str, says: str, words: str, tmp_path: Path
) -> None:
    """The command says why, with the status of a wrong question, and makes no tick."""
    (tmp_path / "a.csv").write_text(text)
    ended = handtick(tmp_path, f"{words} a.csv")
    assert (ended.returncode, ended.stdout) == (2, "")
    assert says in ended.stderr
    assert ended.stderr.count("\n") == 1


def test_only_ticks_of_which_the_file_says_something_are_counted(tmp_path: Path) -> None:
    """A run of three ticks beside a file that says something of one has compared one."""
    (tmp_path / "a.csv").write_text("tick,data\n1,0xED\n2,x\n3,\n")
    ended = handtick(tmp_path, "run 100 --for 3 --board virtual --expect a.csv --json")
    (told,) = [each for each in map(json.loads, ended.stdout.splitlines()) if each["kind"] == "checked"]
    assert (told["ticks"], told["first_difference"]) == (1, None)


def test_files_that_say_nothing_of_the_same_line_are_not_compared(tmp_path: Path) -> None:
    """Nor are files without a tick in common."""
    (tmp_path / "a.csv").write_text("tick,data\n1,1\n")
    for text in ("tick,fetch\n1,1\n", "tick,data\n2,1\n"):
        (tmp_path / "b.csv").write_text(text)
        ended = handtick(tmp_path, "compare a.csv b.csv")
        assert ended.returncode == 2
        assert "no tick in common at which both say something of the same line" in ended.stderr


def test_a_model_that_says_nothing_agrees_with_nothing(tmp_path: Path) -> None:
    """And one that says something of one tick agrees on one."""
    text = (
        "class Some:\n    def reset(self):\n        self.n = 0\n\n    def tick(self):\n        self.n += 1\n"
        "        return {} if self.n > LAST else {'fetch': 0}\n"
    )
    (tmp_path / "none.py").write_text(text.replace("LAST", "0"))
    (tmp_path / "one.py").write_text(text.replace("LAST", "1"))
    ended = handtick(tmp_path, "check none.py --ticks 5 --board virtual")
    assert ended.returncode == 2
    assert "none.py: the model says nothing of ticks 1 to 5; nothing was compared" in ended.stderr
    for ticks in ("5", "200"):
        ended = handtick(tmp_path, f"check one.py --ticks {ticks} --board virtual --json")
        assert ended.returncode == 0
        assert json.loads(ended.stdout.splitlines()[0])["ticks"] == 1


def test_a_machine_that_halts_after_all_that_is_expected_is_not_called_wrong(tmp_path: Path) -> None:
    """Swept beyond its end, it is said to have stopped, with and without a file."""
    shutil.copy(EXAMPLES / "rain-tally.csv", tmp_path)
    sweep = "sweep --to 200 --from 100 --up-to 1kHz --board virtual"
    for more in ("", " --expect rain-tally.csv"):
        ended = handtick(tmp_path, sweep + more)
        assert ended.returncode == 6
        assert "stopped at tick 138" in ended.stderr


# Several resets in one file.


def test_of_several_resets_in_a_file_the_last_is_read(tmp_path: Path) -> None:
    """Ticks of an earlier boot or reset are not mixed with it, also where it went further."""
    heading = "boot,reset,tick,time_us,flags,low early,low late\n"
    lines = "1,0,1,0,0,1,1\n1,0,2,0,0,2,2\n1,1,1,0,0,9,9\n1,1,2,0,0,8,8\n1,1,3,0,0,7,7\n2,0,1,0,0,4,4\n"
    assert rows_of(tmp_path, "a.csv", heading + lines) == [(1, 4, 15)]
    objects = [
        {"kind": "tick", "boot": boot, "reset": reset, "tick": tick, "buses": {"low": {"early": early, "late": 0}}}
        for boot, reset, tick, early in ((1, 0, 1, 1), (1, 1, 2, 3), (1, 1, 1, 2))
    ]
    text = "\n".join(map(json.dumps, objects))
    assert rows_of(tmp_path, "a.jsonl", text) == [(1, 2, 15), (2, 3, 15)]


def test_an_export_of_a_whole_log_compares_as_its_last_reset(tmp_path: Path) -> None:
    """A faulty run before a healthy one in the same export takes nothing from it."""
    for board, count in (("virtual:stuck:3=1", "20"), ("virtual", "8")):
        assert handtick(tmp_path, f"step {count} --board {board} --ignore-halt 100 --quiet").returncode == 0
    runs = [json.loads(each)["run"] for each in handtick(tmp_path, "log list --json").stdout.splitlines()]
    for name in ("all.csv", "all.jsonl"):
        assert handtick(tmp_path, f"log export {name}").returncode == 0
        ended = handtick(tmp_path, f"compare {name} {max(runs)}")
        assert ended.stdout == "no difference in 8 ticks\n"
        ended = handtick(tmp_path, f"run 100 --expect {name} --board virtual")
        assert "8 ticks compared" in ended.stdout


def test_a_bus_may_be_called_as_what_stands_beside_buses_in_an_export(tmp_path: Path) -> None:
    """By hand the column is the bus; in an export it is not."""
    wiring = Wiring((Bus("reset", (0,)), Bus("flags", (1,))))
    path = tmp_path / "a.csv"
    path.write_text("tick,reset,flags\n1,1,0\n2,0,1\n")
    assert [tuple(row) for row in read_trace(path, wiring).rows] == [(1, 1, 3), (2, 2, 3)]
    path.write_text("boot,reset,tick,flags,reset early,flags early\n1,7,1,9,1,0\n")
    assert [tuple(row) for row in read_trace(path, wiring).rows] == [(1, 1, 3)]


# What spreadsheets and slips of the hand make.


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("mark.csv", b"\xef\xbb\xbftick,low\n1,5\n"),
        ("mark.jsonl", b'\xef\xbb\xbf{"tick": 1, "low": 5}\n'),
        ("spaces.csv", "tick, low\n1, 5\n"),
        ("empty columns.csv", "tick,low,,\n1,5,,\n,,,\n"),
        ("short.csv", "tick,low,high\n1,5\n"),
        ("returns.csv", "tick,low\r1,5\r"),
        ("two.csv", "tick,low\n1,6\n1,5\n"),
        ("other kinds.jsonl", '{"kind": "done"}\n\n{"kind": "tick", "tick": 1, "low": 5}\n'),
    ],
)
def test_what_spreadsheets_write_is_read(name: str, text: str | bytes, tmp_path: Path) -> None:
    """With a byte-order mark, spaces after commas, and empty cells at the end."""
    assert rows_of(tmp_path, name, text) == [(1, 5, 15)]


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("a.csv", "tick,low\n1,-1\n", "line 2: '-1' is no value of low, which has 4 bits"),
        ("a.csv", "tick,low\n1,+1\n", "line 2: '+1' is no value of low"),
        ("a.csv", "tick,low\n1,0x-1\n", "line 2: '0x-1' is no value of low"),
        ("a.csv", "tick,low\n1,0x\n", "line 2: '0x' is no value of low"),
        ("a.csv", "tick,low\n1,\u0665\n", "is no value of low"),
        ("a.csv", "tick,low\n-1,1\n", "line 2: '-1' is no tick number"),
        ("a.csv", "tick,low late\n1,16\n", "line 2: '16' is no value of low"),
        ("a.csv", "tick,low\n1,2,3\n", "line 2: '3' is in column 3, which has no heading"),
        ("a.csv", "tick,low,low\n1,2,3\n", "line 1: there are 2 columns called 'low'"),
        ("a.csv", "tick,low,low early\n1,2,3\n", "line 1: there are two columns of early samples of low"),
        ("a.csv", 'tick,low\n1,"' + "x" * 140_000, "it can't be read as CSV: field larger than"),
        ("a.csv", "tick,low\n1," + "9" * 130_000 + "\n", "is no value of low"),
        ("a.csv", b"tick,low\n" + b"1,2\n" * 20_000 + b"1,\xff\n", "line 20002: byte 80011 of the file is not UTF-8"),
        ("a.csv", b"\xef\xbb\xbftick,low\n1,\xff\n", "line 2: byte 14 of the file is not UTF-8"),
        ("a.csv", "tick;low\n1;2\n", "line 1: a heading with a column called tick is needed"),
        ("a.csv", "", "line 1: a heading with a column called tick is needed"),
        ("a.jsonl", '{"tick": 1, "low": -1}\n', "line 1: '-1' is no value of low"),
        ("a.jsonl", '{"tick": 1, "low": true}\n', "line 1: 'true' is no value of low"),
        ("a.jsonl", '{"tick": 1, "low": [1]}\n', "line 1: '[1]' is no value of low"),
        ("a.jsonl", '{"tick": true, "low": 1}\n', "line 1: 'true' is no tick number"),
        ("a.jsonl", '{"tick": -1, "low": 1}\n', "line 1: '-1' is no tick number"),
        ("a.jsonl", '{"tick": 1, "buses": null}\n', "line 1: 'null' is no object of values by bus"),
        ("a.jsonl", '{"tick": 1, "buses": [1]}\n', "line 1: '[1]' is no object of values by bus"),
        ("a.jsonl", '{"tick": 1, "low": {"earyl": 1}}\n', "line 1: low has the samples early and late, and no others"),
        ("a.jsonl", '{"tick": 1, "lwo": 1}\n', "line 1: 'lwo' names no bus of the wiring; there are low, high"),
        ("a.jsonl", '{"tick": 1, "buses": {"lwo": {"early": 1}}}\n', "line 1: 'lwo' names no bus of the wiring"),
        ("a.jsonl", "[" * 200_000, "line 1: it is no JSON object"),
        ("a.jsonl", '{"tick": 1, "low": ' + "9" * 5000 + "}", "line 1: it is no JSON object"),
    ],
)
def test_what_has_no_meaning_is_said_to_have_none(name: str, text: str | bytes, says: str, tmp_path: Path) -> None:
    """In one line, with the place in the file and not all of a long value."""
    assert says in complaint(tmp_path, name, text)


def test_an_export_with_names_is_read_by_its_bare_probes_where_there_is_no_wiring_file(tmp_path: Path) -> None:
    """A line of JSON has both."""
    text = '{"kind": "tick", "boot": 1, "reset": 0, "tick": 1, "early": 5, "late": 6, "buses": {"data": {"early": 1}}}'
    (tmp_path / "a.jsonl").write_text(text)
    assert [tuple(row) for row in read_trace(tmp_path / "a.jsonl", Wiring()).rows] == [(1, 5, 0xFFFF)]


def test_names_without_a_wiring_file_ask_for_one(tmp_path: Path) -> None:
    """Where only bare probes are known, whoever gives names has forgotten the file that says them."""
    (tmp_path / "a.csv").write_text("tick,data\n1,2\n")
    with pytest.raises(UsageError, match="'data' names no bus of the wiring; there is probes; name the wiring file"):
        read_trace(tmp_path / "a.csv", Wiring())
