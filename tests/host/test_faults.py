"""Larch's faults and the commands that find them: the right tick and line, and nothing on a healthy Larch."""

from __future__ import annotations

import json
import os
import random
import re
import subprocess
import sys
from collections import Counter
from pathlib import Path
from typing import Any

import pytest

from handtick.bench import Bench
from handtick.cli.search import ends_words
from handtick.compare import diagnose, trace_of
from handtick.compare.trace import line_names
from handtick.errors import HandtickError, StartDiffers, UsageError
from handtick.events import Tick
from handtick.links.virtual import VirtualLink
from handtick.lockstep import SHOWN, Lockstep
from handtick.model import Model
from handtick.repeat import Repeat
from handtick.virtual.faults import KINDS, faulty_larch
from handtick.virtual.larch import Larch
from handtick.virtual.larch_board import larch_board
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.watch import Watch
from handtick.wiring import Bus, Start, Wiring, load_wiring
from handtick.wobble import Wobbles

ROOT = Path(__file__).parents[2]
WIRING = load_wiring(ROOT / "examples" / "larch.toml")
WIRING_BITS = line_names(WIRING)
MODEL = ROOT / "examples" / "larch_model.py"
#: Faults that are there at every rate and in every run.
STEADY = ("stuck:3=1", "swapped:0,6", "joined:2,4", "hold:sum", "undriven:gauge", "fought:sum,tally")
CHANCE = ("wobble:3,40", "ringing:40")


def nobody(question: str) -> None:
    """Nothing is asked of anybody here."""
    raise AssertionError(question)


def bench_of(fault: str | None = None, wiring: Wiring = WIRING, seed: int = 1) -> Bench:
    """A bench with a Larch."""
    bench = Bench(VirtualLink(larch_board(fault=fault, seed=seed)), wiring=wiring)
    bench.open()
    return bench


def lockstep(fault: str | None, rate: str | None, ticks: int = 130) -> tuple[Any, int]:
    """Runs a Larch beside its model; returns the finding and where the clock rests."""
    with bench_of(fault) as bench:
        side = Lockstep(bench, Model(MODEL, WIRING), Repeat(bench, nobody))
        finding = side.run(ticks, rate)
        return finding, bench.tick


@pytest.mark.parametrize("rate", [None, "1000", "50"])
def test_healthy_larch_and_its_model_agree(rate: str | None) -> None:
    """Nothing is found where nothing is wrong, a tick at a time and in blocks."""
    finding, tick = lockstep(None, rate)
    assert finding.tick is None
    assert finding.compared == tick == 130


@pytest.mark.parametrize(("rate", "block"), [(None, None), ("1000", 16)])
def test_a_check_keeps_the_last_ticks_and_no_others(rate: str | None, block: int | None) -> None:
    """However long a check is, what it keeps of it are those ticks that are shown before a difference."""
    for fault in (None, "stuck:7=1"):
        with bench_of(fault) as bench:
            side = Lockstep(bench, Model(MODEL, WIRING), Repeat(bench, nobody))
            finding = side.run(130, rate, block)
        numbers = [tick.tick for tick in side.last]
        shown = finding.tick or 130
        assert len(numbers) <= SHOWN + (block or 1)
        assert set(range(max(1, shown - SHOWN + 1), shown + 1)) <= set(numbers)


def first_difference(fault: str) -> tuple[int, int]:
    """The first tick after which a faulty Larch and a healthy one show something else, and the probes that differ."""
    healthy, faulty = Larch(RAIN_TALLY), faulty_larch(RAIN_TALLY, fault)
    for tick in range(1, 200):
        for larch in (healthy, faulty):
            larch.set_clock(True)
            larch.set_clock(False)
        if healthy.probes() != faulty.probes():
            return tick, healthy.probes() ^ faulty.probes()
    raise AssertionError(f"{fault} changes nothing")


def probes_of(lines: tuple[str, ...]) -> int:
    """The probes of named lines, one bit each."""
    return sum(1 << WIRING_BITS.index(line) for line in lines)


@pytest.mark.parametrize("rate", [None, "1000"])
@pytest.mark.parametrize("fault", STEADY)
def test_model_finds_the_first_wrong_tick_and_rests_there(fault: str, rate: str | None) -> None:
    """Stepped or in blocks at speed, the clock rests at the first tick at which the machine differs from its model."""
    wanted = first_difference(fault)
    finding, tick = lockstep(fault, rate)
    assert (finding.tick, probes_of(finding.lines)) == wanted
    assert tick == wanted[0]


def test_slow_path_is_right_when_slow_and_wrong_when_fast() -> None:
    """A sum that needs 2.5 ms: nothing is found at 50 Hz; at 1 kHz the ticks that carry a sum are."""
    slow, _ = lockstep("slow:sum,2500", "50")
    fast, _ = lockstep("slow:sum,2500", "1000")
    assert slow.tick is None
    assert fast.tick is not None


def test_stuck_line_is_named() -> None:
    """Where a bus line is stuck, it is the line that differs, and being stuck is among what would do that."""
    finding, _ = lockstep("stuck:1=1", None)
    assert finding.lines == ("data[1]",)
    assert any("data[1] is stuck at 1" in each for each in finding.explanations)


def runs(fault: str | None, times: int, ticks: int = 60, seed: int = 1) -> Wobbles:
    """The same run many times."""
    with bench_of(fault, seed=seed) as bench:
        repeat, wobbles = Repeat(bench, nobody), Wobbles(WIRING)
        for _ in range(times):
            wobbles.take(repeat.run_as_far(ticks, "1000", same_start=False)[0])
        return wobbles


def test_healthy_larch_does_not_wobble() -> None:
    """Thirty runs, all the same."""
    assert runs(None, 30).found() == []


@pytest.mark.parametrize("line", [0, 3, 7])
def test_wobbling_line_is_the_first_to_differ_wherever_it_does(line: int) -> None:
    """A line captured wrong once in a while is named at every tick where a repeat first went another way."""
    first = runs(f"wobble:{line},10", 40).first_of()
    assert first
    assert {each.line for each in first} == {f"data[{line}]"}


def test_wobble_counts_how_often() -> None:
    """Of three runs, one with two lines wrong together: once, each with the other."""
    wiring = Wiring((Bus("data", (0, 1, 2)),))
    wobbles = Wobbles(wiring)
    for value in (5, 5, 6):
        wobbles.take([Tick(1, 1, 1, 0, value, 0, 0)])
    found = wobbles.found()
    assert [(each.tick, each.line, each.when, each.often, each.also) for each in found] == [
        (1, "data[0]", "late", 1, ("data[1]",)),
        (1, "data[1]", "late", 1, ("data[0]",)),
    ]


def test_start_that_differs_is_said_and_the_machine_not_blamed() -> None:
    """A gauge that is empty after the first run makes another start, and that is what is said."""
    with bench_of("forgets", Wiring(WIRING.buses, start=Start(same=20))) as bench:
        repeat = Repeat(bench, nobody)
        repeat.run_to(60, "1000")
        with pytest.raises(StartDiffers, match=r"the start differs: tick \d+ was"):
            repeat.run_to(60, "1000")


def test_recipe_runs_the_users_command_and_asks_for_a_hand(tmp_path: Path) -> None:
    """At each start the command is run, the hand is asked for, and the check must say the same."""
    count = tmp_path / "count"
    load = (sys.executable, "-c", f"open({str(count)!r}, 'a').write('x')")
    same = (sys.executable, "-c", "print('same')")
    asked: list[str] = []
    with bench_of(None, Wiring(WIRING.buses, start=Start("load the memory", load, same))) as bench:
        repeat = Repeat(bench, asked.append)
        repeat.run_to(5, "1000")
        repeat.run_to(5, "1000")
    assert count.read_text() == "xx"
    assert asked == ["load the memory; then press Enter. "] * 2


def test_recipes_that_fail_are_told(tmp_path: Path) -> None:
    """A command that is not there or fails, and a memory check that says something else."""
    for start, says in (
        (Start(command=("no-such-command-here",)), "can't be run"),
        (Start(command=(sys.executable, "-c", "raise SystemExit('no memory')")), "ended with status 1: no memory"),
    ):
        with bench_of(None, Wiring(WIRING.buses, start=start)) as bench, pytest.raises(HandtickError, match=says):
            Repeat(bench, nobody).to_start()
    changing = (sys.executable, "-c", "import time; print(time.time_ns())")
    with bench_of(None, Wiring(WIRING.buses, start=Start(check=changing))) as bench:
        repeat = Repeat(bench, nobody)
        repeat.to_start()
        with pytest.raises(StartDiffers, match="says something else"):
            repeat.to_start()


def watched(ticks: list[tuple[int, int]], bus: Bus, *more: Bus) -> list[tuple[str, str, int, int]]:
    """What is seen in ticks of (early, late) samples."""
    watch = Watch(Wiring((bus, *more)))
    for number, (early, late) in enumerate(ticks, 1):
        watch.take(Tick(1, 1, number, early, late, number, 0))
    return [(each.what, each.line, each.tick, each.times) for each in watch.sights()]


def test_findings_of_every_run() -> None:
    """A late mover, a line that moves in the wrong phase, and a bus driven twice are named with their ticks."""
    good = [(0, 1), (1, 2), (2, 3)]
    assert watched(good, Bus("data", (0, 1))) == []
    assert watched([(0, 1), (3, 2), (1, 0)], Bus("data", (0, 1))) == [("late", "data", 2, 2)]
    assert watched(good, Bus("data", (0, 1), steady="high")) == [("high", "data", 1, 3)]
    assert watched([(0, 0), (1, 1)], Bus("data", (0,), steady="low")) == [("low", "data", 2, 1)]
    bus = Bus("data", (0,), drivers=("one", "two"))
    assert watched([(6, 6), (2, 2)], bus, Bus("one", (1,)), Bus("two", (2,))) == [
        ("drivers", "data", 1, 1),
        ("late", "two", 2, 1),
    ]


def test_late_mover_of_a_machine_is_seen() -> None:
    """A line that comes after the falling edge at speed is named; stepped slowly it is not there."""
    for rate, expected in (("1000", ["fetch"]), ("20", [])):
        with bench_of("late:15,700") as bench:
            watch = Watch(WIRING)
            bench.also(watch.take)
            bench.reset()
            bench.burst(30, rate)
        assert [each.line for each in watch.sights()] == expected


@pytest.mark.parametrize(
    "fault", ["frob", "stuck", "stuck:9=1", "stuck:1=2", "swapped:1,1", "slow:nobody,3", "wobble:1,0"]
)
def test_faults_that_cannot_be_are_refused(fault: str) -> None:
    """With how such a fault is written."""
    with pytest.raises(UsageError, match="fault"):
        faulty_larch(RAIN_TALLY, fault)


def test_every_kind_of_fault_changes_what_larch_does_and_is_the_same_every_time() -> None:
    """Seeded and repeatable: two Larches with one fault and one seed do the same."""
    at_the_wires = ["deaf:40", "loose:3", "shorted:3=1", "bridged:3,4"]
    faults = [*STEADY, *CHANCE, *at_the_wires, "slow:sum,2500", "late:15,700", "forgets"]
    assert {fault.partition(":")[0] for fault in faults} == set(KINDS)
    healthy = None
    for fault in [None, *faults]:
        traces = []
        for _ in range(2):
            with bench_of(fault) as bench:
                bench.reset()
                ticks = bench.burst(30, "1000")
                # A second time round shows what reset does not bring back.
                bench.reset()
                traces.append([(tick.early, tick.late) for tick in [*ticks, *bench.burst(30, "1000")]])
        assert traces[0] == traces[1], fault
        healthy = healthy or traces[0]
        assert (traces[0] == healthy) is (fault is None), fault


_MODEL = "class A:\n def reset(self): pass\n def tick(self): "


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("x = 1\n", "has 0 classes"),
        (_MODEL + "return 3\n", "and not a dict of numbers"),
        (_MODEL + "return {'frob': 3}\n", "names 'frob', which is no bus"),
        (_MODEL + "return {'data': 300}\n", "gave 300 for data of 8 bits"),
        (_MODEL + "return 1 / 0\n", "line 3: tick() at tick 1: ZeroDivisionError"),
        (_MODEL + "pass\n def __init__(self): raise ValueError('no')\n", "A() raised ValueError: no"),
        ("import nothing_of_the_kind\n", "can't be loaded"),
        ("class A(\n", "can't be loaded"),
    ],
)
def test_models_that_cannot_be_used_are_told_with_their_line(text: str, says: str, tmp_path: Path) -> None:
    """A mistake in the user's own class is told as one, and is not a traceback."""
    path = tmp_path / "model.py"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(UsageError) as caught:
        Model(path, WIRING).tick()
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)


def test_slip_of_a_ringing_clock_is_a_slip() -> None:
    """One extra edge moves everything after it by a tick, and that is what is said."""

    def rings(seed: int) -> list[int]:
        dice = random.Random(seed)
        return [tick for tick in range(60) if dice.randrange(1000) < 15]

    seed = next(seed for seed in range(1, 200) if len(rings(seed)) == 1 and 10 < rings(seed)[0] < 45)
    with bench_of("ringing:15", seed=seed) as bench:
        seen = trace_of(bench.burst(58, "1000"), WIRING)
    with bench_of() as bench:
        expected = trace_of(bench.burst(70, "1000"), WIRING)
    finding = diagnose(expected, seen)
    assert any("moved by +1; 1 extra clock suspected" in each for each in finding.explanations)


def handtick(folder: Path, *words: str) -> subprocess.CompletedProcess[str]:
    """A command in a folder with Larch's wiring."""
    env = {**os.environ, "HANDTICK_STATE": str(folder / "state")}
    start = [sys.executable, "-c", "from handtick.cli import main; main()"]
    where = ["--wiring", str(ROOT / "examples" / "larch.toml"), "--log", "log.sqlite3"]
    return subprocess.run([*start, *where, *words], cwd=folder, env=env, capture_output=True, text=True, check=False)


def limit_of(folder: Path, board: str) -> dict[str, Any]:
    """What a sweep of a board says of its limit."""
    ended = handtick(folder, "sweep", *["--to", "60", "--from", "20", "--up-to", "1kHz", "--json"], "--board", board)
    assert ended.returncode == 0, ended.stderr
    (limit,) = [each for each in map(json.loads, ended.stdout.splitlines()) if each["kind"] == "limit"]
    return dict(limit)


def test_sweep_finds_the_limit_of_a_slow_path(tmp_path: Path) -> None:
    """A sum that needs 2.5 ms is wrong from 400 Hz on: last good below, first bad above, the tick and line named."""
    limit = limit_of(tmp_path, "virtual:slow:sum,2500")
    assert 380 <= float(limit["last_good_hz"]) <= 400 < float(limit["first_bad_hz"]) <= 420
    assert limit["first_wrong_tick"] == 12
    assert "data[3]" in limit["lines"]
    assert limit_of(tmp_path, "virtual")["first_bad_hz"] is None


def test_fault_that_no_rate_cures_is_not_called_one_of_speed(tmp_path: Path) -> None:
    """Compared with what should be, a hold fault is there at the slowest rate too, and that is said."""
    assert handtick(tmp_path, *["run", "500", "--for", "60", "--board", "virtual", "--quiet"]).returncode == 0
    assert handtick(tmp_path, *["log", "export", "good.csv", "--ticks", "1..60", "--quiet"]).returncode == 0
    bad = "sweep --to 60 --from 1 --up-to 1kHz --expect good.csv --board virtual:hold:sum"
    ended = handtick(tmp_path, *bad.split())
    assert ended.returncode == 9
    assert "not a fault of speed" in ended.stdout


def test_wobble_says_how_far_a_machine_came_that_halts(tmp_path: Path) -> None:
    """Larch halts at tick 138: nothing is said of the ticks to 200 that it never made, and the status says so."""
    wobble = ["wobble", "--to", "200", "--times", "2", "--board", "virtual"]
    ended = handtick(tmp_path, *wobble)
    assert ended.returncode == 6
    assert ended.stdout == "2 times to tick 138: every line the same each time\n"
    assert "stopped at tick 138: the machine asserted its halt line" in ended.stderr
    ended = handtick(tmp_path, *wobble, "--json")
    assert json.loads(ended.stdout) == {"kind": "wobbles", "times": 2, "tick": 138, "lines": 0}


def test_wobble_says_where_repeats_halted_that_differ(tmp_path: Path) -> None:
    """A line that differs now and then sends some runs another way: how far each of the ten came is told."""
    (tmp_path / "start.toml").write_text((ROOT / "examples" / "larch.toml").read_text() + "\n[start]\nsame = 0\n")
    words = ["wobble", "--to", "200", "--times", "10", "--board", "virtual:wobble:3,40"]
    ended = handtick(tmp_path, *words, "--wiring", "start.toml")
    assert ended.returncode == 9
    came = re.findall(r"(\d+) times? it (?:halted at|came to) tick \d+", ended.stdout.splitlines()[0])
    assert sum(map(int, came)) == 10


def test_repeats_that_halt_at_other_ticks_wobble_though_no_line_differs() -> None:
    """How far each came is told, those that came least far first."""
    assert ends_words(Counter({138: 3, 25: 1}), 138) == "1 time it halted at tick 25; 3 times it came to tick 138"


def test_rewind_goes_back_and_says_whether_the_machine_went_the_same_way(tmp_path: Path) -> None:
    """Rewound on a served board, a healthy Larch goes the same way; one that forgets goes another, from the tick on."""
    for fault, status, says in ((None, 0, "the machine went the same way"), ("forgets", 9, "another way from tick")):
        folder = tmp_path / str(fault)
        folder.mkdir()
        env = {**os.environ, "HANDTICK_STATE": str(folder / "state")}
        start = [sys.executable, "-c", "from handtick.cli import main; main()", "virtual"]
        words = [*start, *(["--fault", fault] if fault else [])]
        with subprocess.Popen(words, cwd=folder, env=env, stdout=subprocess.PIPE, text=True) as server:
            try:
                assert server.stdout is not None
                assert server.stdout.readline()
                assert handtick(folder, "reset").returncode == 0
                assert handtick(folder, "to", "40", "--quiet").returncode == 0
                ended = handtick(folder, "rewind", "3")
                assert ended.returncode == status, ended.stderr
                assert says in ended.stdout
                assert "at tick 37" in ended.stdout
            finally:
                server.terminate()


def test_compare_reads_files_with_what_does_not_matter(tmp_path: Path) -> None:
    """A run against a file by hand: don't-cares and don't-care digits count for nothing, a wrong value is found."""
    assert handtick(tmp_path, *["step", "3", "--board", "virtual", "--quiet"]).returncode == 0
    run = json.loads(handtick(tmp_path, "log", "list", "--json").stdout.splitlines()[0])["run"]
    (tmp_path / "good.csv").write_text("tick,data,fetch\n1,0xEx,1\n2,x,0\n3,0b0000000x,\n")
    (tmp_path / "bad.csv").write_text("tick,data\n1,0xED\n2,1\n3,0\n")
    (tmp_path / "bad.jsonl").write_text('{"tick": 2, "buses": {"data": {"early": 1}}}\n{"tick": 3, "data": 0}\n')
    assert handtick(tmp_path, "compare", "good.csv", str(run)).returncode == 0
    for name in ("bad.csv", "bad.jsonl"):
        ended = handtick(tmp_path, "compare", name, str(run))
        assert ended.returncode == 9
        assert "first difference at tick 2: data[0]" in ended.stdout
        assert "one wrong value, at tick 2 alone" in ended.stdout


@pytest.mark.parametrize(
    ("name", "text", "says"),
    [
        ("a.csv", "data\n1\n", "line 1: a heading with a column called tick"),
        ("a.csv", "tick,data\n1,0x1FF\n", "line 2: '0x1FF' is no value of data, which has 8 bits"),
        ("a.csv", "tick,data\nx,1\n", "line 2: 'x' is no tick number"),
        ("a.jsonl", "{}\n", "line 1: an object with a tick"),
        ("a.jsonl", "nothing\n", "line 1: it is no JSON object"),
        ("a.txt", "", "ends in .csv or .jsonl"),
    ],
)
def test_files_that_are_no_trace_are_told_so(name: str, text: str, says: str, tmp_path: Path) -> None:
    """With file and line."""
    from handtick.compare.files import read_trace

    (tmp_path / name).write_text(text)
    with pytest.raises(UsageError) as caught:
        read_trace(tmp_path / name, WIRING)
    assert says in str(caught.value)


def test_pytest_project_of_a_builder_runs(tmp_path: Path) -> None:
    """The three tests of Larch in examples/ pass on a healthy one; on a faulty one a failure shows the last ticks."""
    examples = ROOT / "examples"
    command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "--rootdir", str(tmp_path)]
    command += ["-c", os.devnull, str(examples / "tests"), "--wiring", str(examples / "larch.toml")]
    env = {**os.environ, "HANDTICK_STATE": str(tmp_path / "state")}
    good = subprocess.run(command, cwd=tmp_path, env=env, capture_output=True, text=True, check=False)
    assert good.returncode == 0, good.stdout + good.stderr
    assert "3 passed" in good.stdout
    bad = subprocess.run(
        [*command, "--board", "virtual:hold:sum"], cwd=tmp_path, env=env, capture_output=True, text=True
    )
    assert bad.returncode == 1
    assert "the last ticks" in bad.stdout
    assert "program" in bad.stdout
