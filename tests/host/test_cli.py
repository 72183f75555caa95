"""The command line against a served virtual board, as two terminals side by side would have it."""

from __future__ import annotations

import json
import os
import re
import signal
import subprocess
import sys
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from handtick.bench import Bench
from handtick.cli.app import TOPICS, make_parser
from handtick.cli.common import Common
from handtick.command_page import parameters, parsers
from handtick.errors import UsageError
from handtick.links.serial_port import SerialLink

ROOT = Path(__file__).parents[2]
START = [sys.executable, "-c", "from handtick.cli import main; main()"]


class Desk:
    """A folder in which commands are typed while a virtual board is served."""

    def __init__(self, folder: Path, port: str) -> None:
        self.folder = folder
        self.port = port
        self.env = {**os.environ, "HANDTICK_STATE": str(folder / "state")}

    def type(self, *words: str) -> subprocess.CompletedProcess[str]:
        """Types a command and waits for its end."""
        return subprocess.run(
            [*START, *words], cwd=self.folder, env=self.env, capture_output=True, text=True, timeout=60, check=False
        )

    def objects(self, *words: str) -> list[dict[str, Any]]:
        """What a command prints with --json."""
        shown = self.type(*words, "--json")
        assert shown.returncode == 0, shown.stderr
        return [json.loads(line) for line in shown.stdout.splitlines()]

    def where(self) -> tuple[int, int, int]:
        """Reset number, tick number and edge count."""
        with Bench(SerialLink(self.port)) as bench:
            now = bench.status().fields
        return int(now["reset"]), int(now["tick"]), int(now["edges"])

    def start(self, *words: str) -> subprocess.Popen[str]:
        """Types a command that goes on."""
        return subprocess.Popen(
            [*START, *words],
            cwd=self.folder,
            env=self.env,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            start_new_session=True,
        )


@pytest.fixture(scope="module")
def desk(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Desk]:
    """A desk with a served board, for all tests of this file: its counts go on from test to test."""
    folder = tmp_path_factory.mktemp("desk")
    desk = Desk(folder, "")
    server = desk.start("virtual", "--json", "--tcp", "0")
    assert server.stdout is not None
    line = server.stdout.readline()
    assert line, server.stderr.read() if server.stderr else ""
    desk.port = json.loads(line)["port"]
    yield desk
    server.send_signal(signal.SIGINT)
    _, said = server.communicate(timeout=10)
    assert server.returncode == 0
    assert "the virtual board has stopped" in said


def test_evening_of_commands_goes_on_one_count(desk: Desk) -> None:
    """Status, steps, a run, going to a tick, being there already, a tick gone by, a reset, and the log of it all."""
    assert desk.objects("reset")[-1]["tick"] == 0
    steps = desk.objects("step", "3")
    assert [each["tick"] for each in steps if each["kind"] == "tick"] == [1, 2, 3]
    run = desk.objects("run", "20Hz", "--for", "40")
    assert [each["tick"] for each in run if each["kind"] == "tick"] == list(range(4, 44))
    assert desk.objects("to", "60")[-1]["tick"] == 60
    again = desk.objects("to", "60")
    assert [each["kind"] for each in again] == ["done"], "no tick is made"
    refused = desk.type("to", "59")
    assert refused.returncode == 4
    assert "that tick has gone by" in refused.stderr
    assert desk.where()[1] == 60
    reset = desk.objects("reset")[-1]
    assert reset["tick"] == 0
    shown = desk.type("log", "show").stdout
    assert re.search(r"reset \d+: to 60: ticks 44 to 60: all that was asked for is done", shown)
    assert "gap" not in shown
    assert desk.type("log", "check").returncode == 0


def test_three_single_steps_go_on_one_count(desk: Desk) -> None:
    """The board lives between commands."""
    reset, tick, edges = desk.where()
    with Bench(SerialLink(desk.port)) as bench:
        assert bench.greeting is not None
        boot = bench.greeting.boot
    for number in range(1, 4):
        assert desk.objects("step", "1")[-1] == {
            "kind": "done",
            "command": "step",
            "boot": boot,
            "reset": reset,
            "tick": tick + number,
            "edges": edges + number,
        }


def test_virtual_is_the_served_board_while_there_is_one(desk: Desk, tmp_path: Path) -> None:
    """Where its clock stands, it goes on; where none is served, each command has a new one, from tick 0."""
    _, tick, _ = desk.where()
    assert desk.objects("step", "--board", "virtual")[-1]["tick"] == tick + 1
    other = Desk(tmp_path, "")
    assert [other.objects("step", "2", "--board", "virtual")[-1]["tick"] for _ in range(2)] == [2, 2]
    assert "virtual: the one being served, else one as long as the command" in " ".join(
        desk.type("--help").stdout.split()
    )


def test_half_ticks_make_a_tick_in_two_commands(desk: Desk) -> None:
    """The first makes one edge and keeps the phase, the second makes the other and completes the tick."""
    _, tick, _ = desk.where()
    first = desk.objects("step", "--half")
    assert [(each["kind"], each.get("phase")) for each in first] == [("half", "lead"), ("done", None)]
    second = desk.objects("step", "--half")
    assert [(each["kind"], each.get("tick")) for each in second] == [
        ("tick", tick + 1),
        ("half", tick + 1),
        ("done", tick + 1),
    ]


def test_instruction_steps_stop_where_the_next_one_begins(desk: Desk) -> None:
    """With a wiring file, a step can be a whole instruction; each stop shows a fetch next."""
    wiring = ("--wiring", str(ROOT / "examples" / "larch.toml"))
    desk.type("reset")
    for _ in range(4):
        ticks = [each for each in desk.objects("step", "--instruction", *wiring) if each["kind"] == "tick"]
        assert [tick["buses"]["fetch"]["late"] for tick in ticks] == [0] * (len(ticks) - 1) + [1]
        assert ticks[0]["buses"]["fetch"]["early"] == 1
    assert len([each for each in desk.objects("step", "--microstep", *wiring) if each["kind"] == "tick"]) == 1


def test_names_of_the_wiring_file_are_shown(desk: Desk) -> None:
    """In rows and in status, a bus has its name and a value its word."""
    wiring = ("--wiring", str(ROOT / "examples" / "larch.toml"))
    desk.type("reset")
    shown = desk.type("step", "2", *wiring).stdout
    assert re.search(r"tick +data +giver +taker +fetch", shown)
    assert "program" in shown
    assert "giver operand" in desk.type("status", *wiring).stdout
    assert "probe 15: fetch" in desk.type("pins", *wiring).stdout


@pytest.mark.fault(
    "link",
    "a command while another program has the board",
    "in use; no tick",
)
def test_second_program_is_told_that_the_board_is_in_use(desk: Desk) -> None:
    """While one program holds the port, another gets a sentence and the status for no board."""
    link = SerialLink(desk.port)
    try:
        shown = desk.type("status")
        listed = desk.type("ports").stdout
        named = desk.type("status", "--board", desk.port)
    finally:
        link.close()
    for each in (shown, named):
        assert each.returncode == 3
        assert ": in use by " in each.stderr
        assert each.stderr.count("\n") == 1
    assert "in use by " in listed
    assert desk.type("status").returncode == 0, "let go, it is there for everybody again"


@pytest.mark.fault(
    "person",
    "Ctrl-C in the middle of a run",
    "the tick at which the clock rests",
)
def test_interrupted_run_rests_and_says_where(desk: Desk) -> None:
    """Ctrl-C in a run brings the clock to rest at a tick boundary, says at which tick, and closes the log."""
    desk.type("reset")
    running = desk.start("run", "50Hz", "--for", "100000")
    assert running.stdout is not None
    for _ in range(10):
        running.stdout.readline()
    os.killpg(running.pid, signal.SIGINT)
    _, said = running.communicate(timeout=20)
    assert running.returncode == 6
    found = re.search(r"the clock rests at tick (\d+)", said)
    assert found is not None, said
    now = desk.objects("status")[0]["now"]
    assert (now["mode"], now["tick"]) == ("rest", int(found[1]))
    assert desk.type("log", "check").returncode == 0


def test_endless_run_ends_with_an_interrupt_and_says_where(desk: Desk) -> None:
    """A run without a length ends well when interrupted."""
    running = desk.start("run", "50Hz")
    assert running.stdout is not None
    for _ in range(6):
        running.stdout.readline()
    os.killpg(running.pid, signal.SIGINT)
    shown, said = running.communicate(timeout=20)
    assert running.returncode == 0, said
    found = re.search(r"at tick (\d+), edge count \d+: halted from the host", shown)
    assert found is not None
    assert desk.where()[1] == int(found[1])


def test_notes_stand_with_their_ticks(desk: Desk) -> None:
    """A note is about the last tick unless told otherwise, and stands under it in the log."""
    desk.type("reset")
    desk.type("step", "5")
    assert desk.objects("note", "carry came on")[0]["tick"] == 5
    assert desk.objects("note", "--tick", "2", "lamp flickers")[0]["tick"] == 2
    shown = desk.type("log", "show", "--ticks", "2..5").stdout
    assert re.search(r"  2  .*\n    note: lamp flickers\n", shown)
    assert re.search(r"  5  .*\n    note: carry came on\n", shown)
    assert {each["kind"] for each in desk.objects("log", "show")} >= {"run", "note", "tick"}


def test_log_shows_the_ticks_where_a_rule_holds(desk: Desk) -> None:
    """Only ticks at which it holds, and of those the last so many."""
    desk.type("reset")
    desk.type("step", "20")
    wiring = ("--wiring", str(ROOT / "examples" / "larch.toml"))
    rows = desk.objects("log", "show", "--where", "fetch", "--ticks", "1..20", *wiring)
    ticks = [each for each in rows if each["kind"] == "tick"]
    assert ticks
    assert all(each["buses"]["fetch"]["late"] == 1 for each in ticks)
    last = desk.objects("log", "show", "--where", "fetch", "--last", "2", *wiring)
    assert [each["tick"] for each in last if each["kind"] == "tick"] == [each["tick"] for each in ticks[-2:]]


def test_note_on_a_run_says_what_was_changed_before_it(desk: Desk) -> None:
    """It stands at the run's first tick, with the run's number."""
    desk.type("reset")
    desk.type("step", "3")
    run = desk.objects("log", "list")[-1]
    noted = desk.objects("note", "new resistor at the clock", "--run", str(run["run"]))[0]
    assert (noted["tick"], noted["text"]) == (1, f"run {run['run']}: new resistor at the clock")


def test_report_is_one_whole_page(desk: Desk) -> None:
    """It has the ticks, the runs, the notes and the finding, escaped, and fetches nothing from elsewhere."""
    desk.type("reset")
    desk.type("step", "9")
    desk.type("note", "<b>carry</b> came on", "--tick", "4")
    wiring = ("--wiring", str(ROOT / "examples" / "larch.toml"))
    words = ("--ticks", "2..6", "--title", "Sum & carry", "--finding", "bit 3 <late>")
    assert desk.type("report", "fault.html", *words, *wiring).returncode == 0
    page = (desk.folder / "fault.html").read_text(encoding="utf-8")
    for text in ("Sum &amp; carry", "bit 3 &lt;late&gt;", "&lt;b&gt;carry", "step 9", "<svg", "giver"):
        assert text in page
    assert not re.search(r"(src|href)=|<script|@import|url\((?!#)", page)


def test_exports_are_whole_files(desk: Desk) -> None:
    """CSV and JSON Lines of a span; a name that says neither is refused, and an old file stays as it was."""
    desk.type("reset")
    desk.type("step", "5")
    assert desk.objects("log", "export", "t.csv", "--ticks", "2..4")[0]["ticks"] == 3
    assert (desk.folder / "t.csv").read_text().startswith("boot,reset,tick,time_us,flags,probes early,probes late\n")
    assert len((desk.folder / "t.csv").read_text().splitlines()) == 4
    shown = desk.type("log", "export", "-", "--form", "jsonl", "--ticks", "2..4").stdout
    assert [json.loads(line)["tick"] for line in shown.splitlines()] == [2, 3, 4]
    assert desk.type("log", "export", "nowhere/t.csv").returncode == 1


def test_quiet_prints_nothing(desk: Desk) -> None:
    """Only errors are printed."""
    shown = desk.type("step", "2", "--quiet")
    assert (shown.returncode, shown.stdout, shown.stderr) == (0, "", "")
    assert desk.type("to", "0", "--quiet").stderr != ""


def test_one_board_is_found_without_being_named(desk: Desk) -> None:
    """The port is found by asking; ports says who is there."""
    found = [each for each in desk.objects("ports") if each["port"] == desk.port]
    assert found[0]["board"]["uid"] == "virtual-bench"


def test_second_virtual_board_is_refused(desk: Desk) -> None:
    """One virtual board is served at a time, so that everybody means the same one."""
    shown = desk.type("virtual")
    assert shown.returncode == 4
    assert desk.port in shown.stderr


@pytest.mark.fault(
    "link",
    "no board is there",
    "what to plug in or try",
)
def test_no_board_is_told_with_what_to_do(tmp_path: Path) -> None:
    """Where nothing is there, the sentence says what could be."""
    shown = Desk(tmp_path, "").type("status")
    assert shown.returncode == 3
    assert "handtick virtual" in shown.stderr


def read(*words: str) -> tuple[Common, Namespace]:
    """What a line says: the options of every command, and all."""
    given = make_parser(words).parse_args(words)
    return Common.of(given), given


@pytest.mark.parametrize(
    "line",
    [
        "--json --log a.sqlite3 log export x.csv --ticks 1..3",
        "--json log --log=a.sqlite3 export x.csv --ticks 1..3",
        "log export --ticks 1..3 --json x.csv --log a.sqlite3",
        "log --json export --log a.sqlite3 --ticks=1..3 x.csv",
    ],
)
def test_options_for_all_commands_may_stand_anywhere(line: str) -> None:
    """Before the command, between its words, and among its own options."""
    common, given = read(*line.split())
    assert common == Common(log=Path("a.sqlite3"), json=True)
    assert (given.file, given.ticks) == ("x.csv", "1..3")


def test_of_an_option_given_twice_the_later_counts() -> None:
    """Also where one stands before the command and the other after it."""
    assert read("--board", "first", "status", "--board", "second")[0].board == "second"


def test_text_after_two_dashes_is_text() -> None:
    """It is no option, whatever it looks like."""
    common, given = read("note", "--tick", "3", "--", "--json")
    assert (given.text, given.tick, common.json) == ("--json", "3", False)


@pytest.mark.parametrize(
    ("line", "shown"),
    [
        ("step 3 --half", {"count": "3", "half": True}),
        ("step --half 3", {"count": "3", "half": True}),
        ("step --trigger 5", {"count": "1", "trigger": "5"}),
        ("rewind --rate 5 3", {"back": "3", "rate": "5"}),
        ("compare 1 --late 2", {"expected": "1", "seen": "2", "late": True}),
        ("note --tick -5 -3", {"text": "-3", "tick": "-5"}),
        ("log export -", {"file": "-", "times": True}),
        ("log export - --no-times", {"file": "-", "times": False}),
        ("lesson l.toml a.sqlite3 b.sqlite3", {"file": Path("l.toml"), "logs": [Path("a.sqlite3"), Path("b.sqlite3")]}),
        ("share --name a --name b", {"names": ["a", "b"]}),
        ("report x.html --ticks 1..2 --title=-5V", {"title": "-5V"}),
    ],
)
def test_arguments_and_options_come_in_any_order(line: str, shown: dict[str, object]) -> None:
    """Options stand before, between or after arguments; numbers below zero and a lone dash are values."""
    given = vars(read(*line.split())[1])
    assert {name: given[name] for name in shown} == shown


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("", "there is no command 'stpe', perhaps 'step' or 'steady'; see: handtick --help"),
        ("log", "there is no command 'stpe'; see: handtick log --help"),
        ("status", "'stpe' is one word too many; see: handtick status --help"),
    ],
)
def test_wrong_word_is_named_with_the_help_that_knows_better(line: str, said: str) -> None:
    """The help is that of the command that was meant; a command that is nearly right is told."""
    with pytest.raises(UsageError, match=re.escape(said)):
        read(*line.split(), "stpe")


def test_option_is_spelt_in_full() -> None:
    """A beginning of it is not enough: another option may begin like it one day."""
    with pytest.raises(UsageError, match="there is no option --hal; see: handtick step --help"):
        read("step", "--hal")


@pytest.mark.parametrize("words", [[], ["log"], ["timers", "--json"]])
def test_word_that_needs_another_after_it_shows_what_could_follow(words: list[str], desk: Desk) -> None:
    """Its help is printed, and the status is that of a wrong usage."""
    shown = desk.type(*words)
    assert (shown.returncode, shown.stderr) == (2, "")
    assert shown.stdout == desk.type(*words, "--help").stdout


def test_help_lists_every_command_under_its_topic() -> None:
    """With the whole sentence that says what it does, and the statuses below."""
    text = "".join(make_parser([]).format_help().split())
    at = 0
    for topic in TOPICS:
        for words in (f"{topic.title}:", *(command.name + command.sentence for command in topic.commands)):
            at = text.index("".join(words.split()), at)
    assert "Exitstatus:0done" in text[at:]


def test_help_of_a_command_says_all_it_takes() -> None:
    """What must be given is in the usage and marked; what is left out has its default told."""
    (sweep,) = [parser for parser in parsers() if parser.prog == "handtick sweep"]
    text = sweep.format_help()
    assert text.startswith("Usage: handtick sweep --to TICK --from RATE --up-to RATE [OPTIONS]\n")
    assert re.search(r"--from RATE +A rate that is slow enough. \[required\]\n", text)
    assert re.search(r"--times N +How often the limit is tried. \[default: 5\]\n", text)
    assert re.search(r"Options of every command:\n +--board PORT ", text)


#: Bad input to every command and option: (words, exit status, what the answer names).
LESSON, LARCH = str(ROOT / "examples" / "lesson.toml"), str(ROOT / "examples" / "larch.toml")
BAD: dict[str, tuple[list[str], int, str]] = {
    "": (["frob"], 2, "frob"),
    "--board": (["status", "--board", "/dev/none"], 3, "/dev/none"),
    "--board missing": (["status", "--board"], 2, "--board"),
    "--board seed": (["status", "--board", "virtual:ringing:5@" + "9" * 5000], 2, "such as virtual:ringing:5@7"),
    "--log": (["step", "--log", "no/such.sqlite3", "--board", "virtual"], 7, "/no'"),
    "--wiring": (["step", "--wiring", "none.toml", "--board", "virtual"], 2, "none.toml"),
    "--json": (["step", "--json=yes"], 2, "--json"),
    "--quiet": (["step", "--quiet=no"], 2, "--quiet"),
    "--version": (["--version=1"], 2, "--version"),
    "ports": (["ports", "all"], 2, "all"),
    "status": (["status", "now"], 2, "now"),
    "step COUNT": (["step", "1.5"], 2, "'1.5'"),
    "step --half": (["step", "2", "--half"], 2, "--half"),
    "step --instruction": (["step", "--instruction", "--half"], 2, "--instruction"),
    "step --microstep": (["step", "--microstep"], 2, "[instruction]"),
    "step --stop-when": (["step", "--stop-when", "frob == 1"], 2, "frob"),
    "run --stop-when": (["run", "5", "--stop-when", "probes =="], 2, "probes =="),
    "to --stop-when": (["to", "9", "--stop-when", "probes > 0xFFFF"], 2, "can never hold"),
    "run RATE": (["run", "fast"], 2, "'fast'"),
    "run RATE high": (["run", "10MHz", "--for", "10"], 4, "9615384.615 Hz at most"),
    "run --samples": (["run", "2", "--for", "3", "--samples", "some"], 2, "'some'"),
    "run --ignore-halt": (["run", "2", "--for", "3", "--ignore-halt", "-1"], 2, "'-1'"),
    "step --ignore-halt": (["step", "--ignore-halt", "0"], 2, "0"),
    "to --samples": (["to", "600", "--samples", ""], 2, "''"),
    "to --ignore-halt": (["to", "600", "--ignore-halt", "x"], 2, "'x'"),
    "run --for": (["run", "2", "--for", "ever"], 2, "'ever'"),
    "to TICK": (["to", "18446744073709551616"], 2, "18446744073709551616"),
    "to --rate": (["to", "10000", "--rate", "0"], 2, "'0'"),
    "halt": (["halt", "now"], 2, "now"),
    "reset": (["reset", "hard"], 2, "hard"),
    "run --expect": (["run", "5", "--expect", "none.csv"], 2, "none.csv"),
    "rewind BACK": (["rewind", "x"], 2, "'x'"),
    "rewind --to": (["rewind", "3", "--to", "5"], 2, "--to"),
    "rewind --rate": (["rewind", "3", "--rate", "fast"], 2, "'fast'"),
    "check MODEL": (["check", "none.py"], 2, "none.py"),
    "check --ticks": (["check", "none.py", "--ticks", "0"], 2, "'0'"),
    "check --rate": (["check", "none.py", "--rate", "x"], 2, "'x'"),
    "compare EXPECTED": (["compare", "none.csv", "1"], 2, "none.csv"),
    "compare SEEN": (["compare", "1", "99999"], 2, "no run"),
    "compare --late": (["compare", "1", "2", "--late=1"], 2, "--late"),
    "wobble --to": (["wobble", "--to", "0"], 2, "'0'"),
    "wobble --times": (["wobble", "--to", "5", "--times", "1"], 2, "--times 1"),
    "wobble --rate": (["wobble", "--to", "5", "--rate", "x"], 2, "'x'"),
    "sweep --to": (["sweep", "--to", "x", "--from", "1", "--up-to", "2"], 2, "'x'"),
    "sweep --from": (["sweep", "--to", "5", "--from", "9", "--up-to", "2"], 2, "--from 9"),
    "sweep --up-to": (["sweep", "--to", "5", "--from", "1", "--up-to", "x"], 2, "'x'"),
    "sweep --times": (["sweep", "--to", "5", "--from", "1", "--up-to", "2", "--times", "0"], 2, "--times 0"),
    "sweep --duty": (["sweep", "--to", "5", "--from", "1", "--up-to", "2", "--duty", "0,50"], 2, "--duty 0,50"),
    "sweep --expect": (["sweep", "--to", "5", "--from", "1", "--up-to", "2", "--expect", "no.csv"], 2, "no.csv"),
    "note TEXT": (["note", "  "], 2, "empty"),
    "note --tick": (["note", "x", "--tick", "-5"], 2, "'-5'"),
    "note --run": (["note", "x", "--run", "none"], 2, "--run none"),
    "log show --where": (["log", "show", "--where", "frob"], 2, "frob"),
    "log": (["log", "frob"], 2, "frob"),
    "log list": (["log", "list", "x"], 2, "x"),
    "log check": (["log", "check", "x"], 2, "x"),
    "log show --last": (["log", "show", "--last", "none"], 2, "--last none"),
    "log show --ticks": (["log", "show", "--ticks", "9..1"], 2, "'9..1'"),
    "log export FILE": (["log", "export", "x.xls"], 2, "x.xls"),
    "log export --ticks": (["log", "export", "x.csv", "--ticks", "a"], 2, "'a'"),
    "log export --form": (["log", "export", "x.csv", "--form", "xls"], 2, "--form xls: there are csv"),
    "log export --times": (["log", "export", "x.csv", "--times=3"], 2, "--times"),
    "log export --no-times": (["log", "export", "x.csv", "--no-times=3"], 2, "--no-times"),
    "diagram --ticks": (["diagram", "--ticks", "9..1"], 2, "'9..1'"),
    "diagram --ticks high": (["diagram", "--ticks", "0..9999"], 2, "at most 512"),
    "diagram --lines": (["diagram", "--ticks", "1..3", "--lines", "frob"], 2, "'frob'"),
    "diagram --svg": (["diagram", "--ticks", "1..3", "--svg", "no/such.svg"], 1, "such.svg"),
    "diagram --png": (["diagram", "--ticks", "1..3", "--png", "no/such.png"], 1, "such.png"),
    "diagram --theme": (["diagram", "--ticks", "1..3", "--theme", "sepia"], 2, "sepia"),
    "report FILE": (["report", "no/such.html", "--ticks", "1..3"], 1, "such.html"),
    "report --ticks": (["report", "x.html", "--ticks", "a"], 2, "'a'"),
    "report --title": (["report", "x.html", "--ticks", "9..1", "--title", "x"], 2, "'9..1'"),
    "report --finding": (["report", "x.html", "--ticks", "0..600", "--finding", "x"], 2, "at most 512"),
    "panel": (["panel", "--json"], 2, "--json"),
    "wire": (["wire", "--wiring", "no/such/wiring.toml"], 2, "no/such"),
    "install --to": (["install", "--to", "no/such"], 2, "no/such"),
    "install --check": (["install", "--check=1"], 2, "--check"),
    "install --compiler": (["install", "--compiler", "none", "--to", "."], 2, "none"),
    "pins PROFILE": (["pins", "most"], 2, "most"),
    "step --trigger": (["step", "--trigger", "0"], 2, "0"),
    "step --by-ready": (["step", "--by-ready", "--half"], 2, "--by-ready"),
    "step --rate": (["step", "--rate", "1kHz"], 2, "--by-ready"),
    "step --then-run": (["step", "2", "--then-run"], 2, "--then-run"),
    "run --trigger": (["run", "2", "--for", "3", "--trigger", "x"], 2, "'x'"),
    "to --trigger": (["to", "600", "--trigger", "-1"], 2, "'-1'"),
    "levels --sources": (["levels", "--sources=3"], 2, "--sources"),
    "levels --driver": (["levels", "--driver", "7400"], 2, "'7400'"),
    "levels --family": (["levels", "--family", ""], 2, "''"),
    "levels --supply": (["levels", "--supply", "none"], 2, "--supply none"),
    "levels --driver-supply": (["levels", "--driver-supply", "-1"], 2, "--driver-supply -1"),
    "levels --inputs": (["levels", "--inputs", "0"], 2, "--inputs 0"),
    "levels --inputs too long": (["levels", "--inputs", "9" * 5000], 2, "--inputs 9999"),
    "lesson FILE": (["lesson", "no.toml", "log.sqlite3"], 2, "no.toml"),
    "lesson LOGS": (["lesson", LESSON, "no/log.sqlite3", "--wiring", LARCH], 7, "no/log.sqlite3"),
    "share --network": (["share", "--network=1"], 2, "--network"),
    "share --port": (["share", "--port", "http"], 2, "--port http"),
    "share --lesson": (["share", "--lesson", "no.toml"], 2, "no.toml"),
    "share --replay": (["share", "--replay", "no/log.sqlite3"], 7, "no/log.sqlite3"),
    "share --gone": (["share", "--gone", "0"], 2, "--gone 0"),
    "share --name": (["share", "--name", "a/b"], 2, "--name a/b"),
    "share --broker": (["share", "--broker", "http://larch"], 2, "--broker http://larch"),
    "share --broker-ca": (
        ["share", "--broker", "mqtts://127.0.0.1", "--broker-ca", "no/ca.pem"],
        2,
        "--broker-ca no/ca.pem",
    ),
    "bounce --presses": (["bounce", "--presses", "0"], 2, "--presses 0"),
    "bounce --file": (["bounce", "--file", "no/such.csv"], 2, "no/such.csv"),
    "bounce --save": (["bounce", "--save=", "--file", "none.csv"], 1, "give the name of a file"),
    "bounce --svg": (["bounce", "--file", "none.csv", "--svg", "x.svg"], 2, "none.csv"),
    "bounce --write": (["bounce", "--write=1"], 2, "--write"),
    "bounce --to": (["bounce", "--file", "none.csv", "--to", "no/drive"], 2, "none.csv"),
    "edges --count": (["edges", "--count", "0"], 2, "'0'"),
    "edges --rates": (["edges", "--rates", "100,fast"], 2, "'fast'"),
    "edges --bus": (["edges", "--bus", "frob"], 2, "--bus frob"),
    "edges --at": (["edges", "--at"], 2, "--at"),
    "probes --ticks": (["probes", "--ticks", "0"], 2, "'0'"),
    "probes --through": (["probes", "--through", "air"], 2, "--through air"),
    "probes --expect": (["probes", "--expect", "none.csv"], 2, "none.csv"),
    "steady --rates": (["steady", "--rates", "100,,5"], 2, "''"),
    "steady --duty": (["steady", "--duty", "0"], 2, "--duty 0"),
    "steady --count": (["steady", "--count", "2"], 2, "'2'"),
    "timers": (["timers", "frob"], 2, "frob"),
    "timers one-shot --r": (["timers", "one-shot", "--r", "big", "--c", "1u"], 2, "'big'"),
    "timers one-shot --c": (["timers", "one-shot", "--r", "1k", "--c", "0"], 2, "'0'"),
    "timers one-shot --width": (["timers", "one-shot", "--width", "1F"], 2, "'1F'"),
    "timers one-shot --chip": (["timers", "one-shot", "--width", "1s", "--chip", "frob"], 2, "--chip frob"),
    "timers one-shot --r-tolerance": (["timers", "one-shot", "--width", "1s", "--r-tolerance", "100"], 2, "100"),
    "timers one-shot --c-tolerance": (["timers", "one-shot", "--width", "1s", "--c-tolerance", "x"], 2, "x"),
    "timers astable --r1": (["timers", "astable", "--r1", "1k", "--c", "1u"], 2, "--r1, --r2 and --c"),
    "timers astable --r2": (["timers", "astable", "--r1", "1k", "--r2", "-1", "--c", "1u"], 2, "'-1'"),
    "timers astable --c": (["timers", "astable", "--r1", "1k", "--r2", "1k", "--c", "1k"], 2, "'1k'"),
    "timers astable --rate": (["timers", "astable", "--rate", "fast"], 2, "'fast'"),
    "timers astable --duty": (["timers", "astable", "--rate", "5", "--duty", "40"], 2, "duty 40 %"),
    "timers astable --chip": (["timers", "astable", "--rate", "5", "--chip", "555"], 2, "--chip 555"),
    "timers astable --r-tolerance": (["timers", "astable", "--rate", "5", "--r-tolerance", "-5"], 2, "-5"),
    "timers astable --c-tolerance": (["timers", "astable", "--rate", "5", "--c-tolerance", "200"], 2, "200"),
    "serve-pins --tcp": (["serve-pins", "--tcp", "x"], 2, "--tcp x"),
    "serve-pins --settings": (["serve-pins", "--settings", "no/settings.toml"], 2, "no/settings.toml"),
    "virtual --tcp": (["virtual", "--tcp", "70000"], 2, "70000"),
    "virtual --program": (["virtual", "--program", "frob"], 2, "frob"),
    "virtual --fault": (["virtual", "--fault", "stuck:9=1"], 2, "stuck:9=1"),
    "virtual --seed": (["virtual", "--seed", "x"], 2, "--seed x"),
    "virtual --chain": (["virtual", "--chain", "6"], 2, "--chain 6"),
    "demo --quick": (["demo", "--quick=5"], 2, "--quick"),
}


@pytest.mark.fault(
    "person",
    "nonsense for every command and option",
    "one or two lines with the value in them, a status, no tick",
)
@pytest.mark.parametrize("row", BAD)
def test_bad_input_is_one_line_a_status_and_no_tick(row: str, desk: Desk) -> None:
    """Whatever is wrong: one or two lines that name it, its own status, no traceback, and the clock has not moved."""
    words, status, names = BAD[row]
    before = desk.where()
    shown = desk.type(*words)
    assert shown.returncode == status, shown.stderr
    assert names in shown.stderr
    assert 1 <= len(shown.stderr.splitlines()) <= 2
    assert "Traceback" not in shown.stderr
    assert shown.stdout == ""
    assert desk.where() == before


def rows_due() -> Iterator[str]:
    """Every command, argument and option there is, as the table's rows call them."""
    for parser in parsers():
        command = parser.prog.removeprefix("handtick").strip()
        actions = parameters(parser)
        names = [name for action in actions for name in action.option_strings or [action.dest.upper()]]
        yield from [f"{command} {name}".strip() for name in names] or [command]


def test_every_command_and_option_has_a_row_of_bad_input() -> None:
    """A new command, argument or option needs a row in the table of bad input."""
    rows = {re.sub(r" (missing|high)$", "", row) for row in BAD}
    assert set(rows_due()) - rows - {"note TICK", "to TICK"} == set()
