"""The commands of the bench as they are typed: what they leave in the log, on the drive, and as their status."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from pathlib import Path

import pytest

from handtick.log import LogWriter

ROOT = Path(__file__).parents[2]
START = [sys.executable, "-c", "from handtick.cli import main; main()"]


def typed(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """Types a command in a folder."""
    env = {**os.environ, "HANDTICK_STATE": str(folder / "state")}
    return subprocess.run(
        [*START, *words], cwd=folder, env=env, capture_output=True, text=True, timeout=120, check=False
    )


def logged_runs(folder: Path) -> list[str]:
    """The runs in the log, an object each."""
    return typed(folder, "log", "list", "--json").stdout.splitlines()


@pytest.mark.parametrize(("board", "status", "seen"), [("virtual", 0, 16), ("virtual:ringing:1000", 9, 32)])
def test_edges_are_remembered_in_the_log_with_board_and_wiring(
    board: str, status: int, seen: int, tmp_path: Path
) -> None:
    """What was seen, where, and with which wiring file; a difference has its own status."""
    larch = str(ROOT / "examples" / "larch.toml")
    found = typed(tmp_path, "edges", "--board", board, "--rates", "10kHz", "--at", "board 3", "--wiring", larch)
    assert found.returncode == status, found.stderr
    rows = [json.loads(line) for line in typed(tmp_path, "log", "show", "--json").stdout.splitlines()]
    (note,) = [row["text"] for row in rows if row["kind"] == "note"]
    assert note == f"edges at board 3, wiring {larch}: 16 sent, {seen} seen at 10000 Hz"


def test_times_that_suit_the_button_are_written_to_the_drive(tmp_path: Path) -> None:
    """Into the settings that are there, and nothing else of them is changed."""
    drive = tmp_path / "drive"
    drive.mkdir()
    settings = (ROOT / "firmware" / "settings.toml").read_text(encoding="utf-8")
    (drive / "settings.toml").write_text(settings, encoding="utf-8")
    (tmp_path / "button.csv").write_text("time_ms,closed\n0,0\n100,1\n150,0\n157.5,1\n158,0\n", encoding="utf-8")
    found = typed(tmp_path, "bounce", "--file", "button.csv", "--write", "--to", str(drive))
    assert found.returncode == 0, found.stderr
    after = (drive / "settings.toml").read_text(encoding="utf-8").splitlines()
    changed = [line for line in after if line not in settings.splitlines()]
    assert changed == ["HANDTICK_PRESS_US = 100", "HANDTICK_REARM_US = 15000"]
    assert len(after) == len(settings.splitlines())


def test_probes_of_a_healthy_bench_end_well_and_a_loose_one_does_not(tmp_path: Path) -> None:
    """The status tells a script; the probe and what it is are in the one line of the error."""
    assert typed(tmp_path, "probes", "--board", "virtual", "--through", "wires").returncode == 0
    found = typed(tmp_path, "probes", "--board", "virtual:loose:5", "--through", "wires")
    assert (found.returncode, found.stderr.splitlines()[-1]) == (9, "handtick: probe 5 loose")


@pytest.mark.parametrize("command", ["edges", "steady"])
def test_rates_that_the_board_does_not_make_are_told(command: str, tmp_path: Path) -> None:
    """The others are tried all the same; where it makes none of them, nothing is, and the clock has not moved."""
    some = typed(tmp_path, command, "--board", "virtual", "--rates", "20,100MHz")
    assert some.returncode == 0, some.stderr
    assert "handtick: 100000000 Hz was left out: this board makes " in some.stderr
    made = len(logged_runs(tmp_path))
    none = typed(tmp_path, command, "--board", "virtual", "--rates", "90MHz,100MHz")
    assert none.returncode == 2
    assert none.stderr.startswith("handtick: --rates 90000000,100000000: this board makes ")
    assert len(logged_runs(tmp_path)) == made


@pytest.mark.parametrize(
    ("board", "line"), [("virtual", "probes   16"), ("virtual:chain:2", "probes   32, 16 of them on a chain")]
)
def test_status_says_how_many_probes_there_are(board: str, line: str, tmp_path: Path) -> None:
    """And how many of them a chain of shift registers has."""
    assert line in typed(tmp_path, "status", "--board", board).stdout.splitlines()


def test_run_to_a_stop_rule_is_listed_as_a_run(tmp_path: Path) -> None:
    """It has no other end, and no count that stands for none is shown to people."""
    larch = str(ROOT / "examples" / "larch.toml")
    rule = ("--stop-when", "data == 0x4C", "--wiring", larch)
    for words in (("run", "1kHz", *rule), ("run", "1kHz", "--for", "20", *rule)):
        found = typed(tmp_path, *words, "--board", "virtual")
        assert found.returncode == 0, found.stderr
    listed = typed(tmp_path, "log", "list").stdout.splitlines()[2:]
    assert [re.split(r"  +", row.strip())[4:] for row in listed] == [
        ["run", "1 to 10", "the stop rule held"],
        ["burst 20", "1 to 10", "the stop rule held"],
    ]


def test_burst_longer_than_half_of_what_a_counter_counts_is_refused(tmp_path: Path) -> None:
    """Whether an edge is missing or a whole round could not be told; the clock has not moved."""
    larch = str(ROOT / "examples" / "larch.toml")
    found = typed(tmp_path, "edges", "--board", "virtual", "--bus", "giver", "--wiring", larch)
    assert found.returncode == 2
    assert found.stderr == "handtick: --count 16: giver begins anew after 8; send half of that at most\n"
    assert logged_runs(tmp_path) == []


LARGE = str(2**64 - 1)


@pytest.mark.parametrize(
    ("words", "status", "said"),
    [
        (["log", "show", "--ticks", f"1..{LARGE}"], 0, ""),
        (["log", "show", "--ticks", f"{2**63}..{LARGE}"], 0, ""),
        (["log", "show", "--last", LARGE], 0, ""),
        (["log", "show", "--last", LARGE, "--where", "tick == 2"], 0, ""),
        (["log", "export", "-", "--form", "csv", "--ticks", f"1..{LARGE}"], 0, ""),
        (
            ["note", "far", "--tick", LARGE],
            2,
            f"tick {LARGE} of reset 0 is not in the log; its newest is tick 3",
        ),
        (
            ["diagram", "--ticks", str(2**63)],
            2,
            f"the log has none of the ticks {2**63} to {2**63} in its latest reset",
        ),
    ],
)
def test_tick_numbers_may_be_as_large_as_a_board_counts(
    words: list[str], status: int, said: str, tmp_path: Path
) -> None:
    """Up to 2^64 - 1 a number is a tick that the log has or has not; never a traceback."""
    with LogWriter.open(tmp_path / "handtick.sqlite3", "shed", 0) as log:
        log.add_ticks([(1, 0, tick, 0, 0, tick, 0) for tick in (1, 2, 3)])
    found = typed(tmp_path, *words)
    assert (found.returncode, found.stderr) == (status, f"handtick: {said}\n" if said else "")


@pytest.mark.parametrize("words", [["log", "show"], ["log", "export", "-", "--form", "csv"]])
def test_who_has_had_enough_of_a_log_leaves_without_a_word(words: list[str], tmp_path: Path) -> None:
    """Piped into a program that reads a line and ends, nothing is said beside the output."""
    with LogWriter.open(tmp_path / "handtick.sqlite3", "shed", 0) as log:
        log.add_ticks([(1, 0, tick, 0, 0, tick, 0) for tick in range(1, 30_000)])
    with subprocess.Popen([*START, *words], cwd=tmp_path, stdout=subprocess.PIPE, stderr=subprocess.PIPE) as showing:
        assert showing.stdout is not None
        assert showing.stderr is not None
        showing.stdout.readline()
        showing.stdout.close()
        assert showing.stderr.read() == b""
    assert showing.returncode == 1


PRINTING = [
    ["log", "show"],
    ["log", "export", "-", "--form", "csv"],
    ["log", "list", "--json"],
    ["--help"],
    ["--version"],
]


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no disk that is always full")
@pytest.mark.parametrize("buffered", [True, False])
@pytest.mark.parametrize("words", PRINTING)
def test_output_that_cannot_be_written_is_told_in_a_line(words: list[str], buffered: bool, tmp_path: Path) -> None:
    """A full disk behind `>`: what can't be written, why, a status, and no traceback."""
    many_ticks(tmp_path)
    env = {**os.environ, "PYTHONUNBUFFERED": "" if buffered else "1"}
    with Path("/dev/full").open("wb") as full:
        shown = subprocess.run(
            [*START, *words], cwd=tmp_path, env=env, stdout=full, stderr=subprocess.PIPE, text=True, check=False
        )
    assert shown.stderr == "handtick: standard output: can't be written: no space left on device\n"
    assert shown.returncode == 1


@pytest.mark.skipif(os.name == "nt", reason="a shell there does not close it")
@pytest.mark.parametrize("words", PRINTING)
def test_closed_output_is_told_in_a_line(words: list[str], tmp_path: Path) -> None:
    """`>&-`: nothing is done, as what it says would be lost."""
    many_ticks(tmp_path)
    closing = ["sh", "-c", 'exec "$@" >&-', "sh", *START, *words]
    shown = subprocess.run(closing, cwd=tmp_path, stderr=subprocess.PIPE, text=True, check=False)
    assert shown.stderr == "handtick: standard output is closed; give it somewhere to go\n"
    assert shown.returncode == 1


def many_ticks(folder: Path) -> None:
    """A log of many ticks, with a run."""
    with LogWriter.open(folder / "handtick.sqlite3", "shed", 0) as log:
        log.end_run(log.start_run(1, 0, 1, "step 3", 0), 3, "count", 0)
        log.add_ticks([(1, 0, tick, 0, 0, tick, 0) for tick in range(1, 3000)])


def test_output_of_few_letters_shows_what_it_can(tmp_path: Path) -> None:
    """Where letters are those of an older system, what is not among them is replaced; JSON and exports are UTF-8."""
    (tmp_path / "wiring.toml").write_text('[bus."Σ"]\nprobes = "0..1"\n', encoding="utf-8")
    with LogWriter.open(tmp_path / "handtick.sqlite3", "shed", 0) as log:
        log.add_tick(1, 0, 1, 1, 2, 5, 0)

    def shown(*words: str) -> bytes:
        env = {**os.environ, "PYTHONIOENCODING": "cp1252", "HANDTICK_STATE": str(tmp_path / "state")}
        found = subprocess.run([*START, *words], cwd=tmp_path, env=env, capture_output=True, check=False)
        assert found.returncode == 0, found.stderr
        return found.stdout

    assert b"?" in shown("diagram", "--ticks", "1..1")
    assert b"?" in shown("probes", "--board", "virtual", "--log", "other.sqlite3")
    assert json.loads(shown("log", "show", "--json"))["buses"] == {"Σ": {"early": 1, "late": 2}}
    assert shown("log", "export", "-", "--form", "csv").splitlines()[0].decode().endswith("Σ early,Σ late")


def test_export_to_standard_output_is_as_the_file(tmp_path: Path) -> None:
    """Byte for byte, ends of lines too."""
    many_ticks(tmp_path)
    for form in ("csv", "jsonl", "vcd"):
        assert typed(tmp_path, "log", "export", f"x.{form}").returncode == 0
        words = [*START, "log", "export", "-", "--form", form]
        printed = subprocess.run(words, cwd=tmp_path, capture_output=True, check=True).stdout
        assert printed == (tmp_path / f"x.{form}").read_bytes()
