"""Exports read back by readers that are not ours: every tick as the log has it, whatever is missing."""

from __future__ import annotations

import csv
import io
import json
import os
import signal
import tracemalloc
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pyarrow import parquet
from vcdvcd import VCDVCD

from handtick.cli.common import Common
from handtick.cli.logs import export
from handtick.export import tick_object, write_csv, write_json_lines, write_parquet, write_vcd
from handtick.log import LogWriter, Tick
from handtick.wiring import Bus, Wiring

WIRING = Wiring((Bus("data", tuple(range(8))), Bus("mixed", (9, 8, 11), inverted=True), Bus("my line", (15,))))
SAMPLES = st.integers(0, 0xFFFF)
# That reader lets the system end its whole process at a broken pipe; here, as everywhere in Python, it is an error.
signal.signal(signal.SIGPIPE, signal.SIG_IGN)
LONG = 100_000 if os.environ.get("HANDTICK_LONG") else 0


@st.composite
def logs(draw: st.DrawFn) -> list[Tick]:
    """Ticks of a log: with gaps, resets, and ticks without samples."""
    ticks, reset, number, time_us = [], 0, 0, draw(st.integers(5, 1000))
    for _ in range(draw(st.integers(1, 20))):
        if draw(st.integers(0, 9)) == 0:
            reset, number = reset + 1, 0
        number += draw(st.sampled_from([1, 1, 1, 1, 5]))
        time_us += draw(st.integers(8, 100_000))
        early, late = draw(st.one_of(st.tuples(SAMPLES, SAMPLES), st.just((None, None))))
        ticks.append(Tick(1, reset, number, early, late, time_us, 0))
    return ticks


@settings(max_examples=60)
@given(ticks=logs())
def test_vcd_read_back_is_the_log(ticks: list[Tick], tmp_path_factory: pytest.TempPathFactory) -> None:
    """Just before each edge the file has what the log has; in a gap, and where no sample was taken, it has nothing."""
    path = tmp_path_factory.mktemp("vcd") / "t.vcd"
    with path.open("w") as file:
        assert write_vcd(iter(ticks), WIRING, file) == len(ticks)
    read = VCDVCD(str(path))
    names = {signal.split(".")[-1].split("[")[0]: signal for signal in read.signals}
    clock = read[names["clock"]]
    rising = [time for time, value in clock.tv if value == "1"]
    assert rising == [tick.time_us * 1000 for tick in ticks]
    for place, tick in enumerate(ticks):
        at_ns = tick.time_us * 1000
        fall = next(time for time, value in clock.tv if time > at_ns and value == "0")
        for bus in WIRING.buses:
            signal = read[names[bus.name.replace(" ", "_")]]
            for sample, moment in ((tick.early, at_ns), (tick.late, fall - 1)):
                assert level(signal[moment], bus.width) == (None if sample is None else bus.value(sample))
        if place and (tick.reset, tick.tick) != (ticks[place - 1].reset, ticks[place - 1].tick + 1):
            before_ns = ticks[place - 1].time_us * 1000
            assert clock[before_ns + (at_ns - before_ns) * 5 // 8] == "x"
    assert read.endtime >= ticks[-1].time_us * 1000 + 2_000_000


@pytest.mark.parametrize(
    ("times_us", "drawn_ns"),
    [
        ([5, 5, 6, 6, 7], [5000, 5500, 6000, 6500, 7000]),
        ([0, 0], [8, 500]),
        ([5] * 100, [5000 + 10 * place for place in range(100)]),
        ([5, 4, 20], [5000, 5008, 20_000]),
        ([300, 200, 100], [300_000, 300_008, 300_016]),
        ([5] * 300, None),
    ],
)
@pytest.mark.parametrize("missing", [0, 2], ids=["every tick", "gaps between"])
def test_vcd_of_a_clock_faster_than_the_times_are_fine_has_every_tick(
    times_us: list[int], drawn_ns: list[int] | None, missing: int, tmp_path: Path
) -> None:
    """Ticks of one microsecond are spread over it, and where times go back edges go on; each has its values."""
    ticks = [Tick(1, 0, 1 + place * (1 + missing), place, place + 1, at, 0) for place, at in enumerate(times_us)]
    path = tmp_path / "t.vcd"
    with path.open("w") as file:
        assert write_vcd(iter(ticks), WIRING, file) == len(ticks)
    read = VCDVCD(str(path))
    names = {signal.split(".")[-1].split("[")[0]: signal for signal in read.signals}
    clock, data = read[names["clock"]], read[names["data"]]
    rising = [time for time, value in clock.tv if value == "1"]
    assert len(rising) == len(ticks)
    assert rising == drawn_ns or drawn_ns is None
    for tick, at_ns in zip(ticks, rising, strict=True):
        assert int(data[at_ns], 2) == tick.early & 0xFF
        assert int(data[at_ns + 1], 2) == tick.late & 0xFF


def level(text: str, width: int) -> int | None:
    """A value of the file; None where it is unknown."""
    if "x" in text:
        assert set(text) == {"x"}
        return None
    assert len(text) <= width
    return int(text, 2)


@given(ticks=logs())
def test_parquet_csv_and_json_lines_read_back_are_the_log(
    ticks: list[Tick], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Read by pyarrow and by the standard library, every key, time and value is what the log has."""
    path = tmp_path_factory.mktemp("parquet") / "t.parquet"
    rows, lines = io.StringIO(), io.StringIO()
    assert write_parquet(iter(ticks), WIRING, path) == len(ticks)
    assert write_csv(iter(ticks), WIRING, rows) == len(ticks)
    assert write_json_lines(iter(ticks), WIRING, lines) == len(ticks)
    table = parquet.read_table(path).to_pylist()
    sheet = list(csv.DictReader(io.StringIO(rows.getvalue())))
    objects = [json.loads(line) for line in lines.getvalue().splitlines()]
    # The very object that commands print, as text too.
    printed = [json.dumps(tick_object(tick, WIRING), ensure_ascii=False) for tick in ticks]
    assert lines.getvalue().splitlines() == printed
    for tick, one, two, three in zip(ticks, table, sheet, objects, strict=True):
        for name in ("boot", "reset", "tick", "time_us"):
            assert one[name] == int(two[name]) == three[name] == getattr(tick, name)
        for bus in WIRING.buses:
            for when, sample in (("early", tick.early), ("late", tick.late)):
                value = None if sample is None else bus.value(sample)
                assert one[f"{bus.name} {when}"] == value
                assert two[f"{bus.name} {when}"] == ("" if value is None else str(value))
                assert three["buses"][bus.name][when] == value


#: What is kept of a machine that never comes to the same state twice; a table that grows and shrinks takes some less.
STATES_BYTES = 400_000


def many(count: int) -> Iterator[Tick]:
    """So many ticks, made as they are asked for."""
    for number in range(1, count + 1):
        yield Tick(1, 0, number, number & 0xFFFF, number * 7 & 0xFFFF, number * 1000, 0)


@pytest.mark.parametrize("form", ["csv", "jsonl", "vcd", "parquet"])
def test_memory_does_not_grow_with_the_number_of_ticks(form: str, tmp_path: Path) -> None:
    """Many times as many ticks take no more than a fifth more memory, beside what is kept of the machine's states.

    Of Parquet, which comes in groups of 65,536, three groups against one; ten times as many in the long form.
    """

    def peak(count: int) -> int:
        tracemalloc.start()
        if form == "parquet":
            write_parquet(many(count), WIRING, tmp_path / "t.parquet")
        else:
            with (tmp_path / "t").open("w", newline="") as file:
                write = {"csv": write_csv, "jsonl": write_json_lines, "vcd": write_vcd}[form]
                write(many(count), WIRING, file)  # type: ignore[operator]
        most = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        return most

    peak(100)
    few, times = LONG or (66_000 if form == "parquet" else 3_000), 3 if form == "parquet" and not LONG else 10
    assert peak(times * few) <= 1.2 * peak(few) + STATES_BYTES


def test_vcd_of_several_boots_is_of_the_latest_and_says_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The boot that was heard last and has ticks, as a diagram has it; how many ticks is how many are in the file."""
    common = Common(log=tmp_path / "log.sqlite3")
    with LogWriter.open(common.log_path, "shed", 0) as log:
        for boot, count in ((1, 5), (2, 2), (3, 4), (2, 3)):
            log.greet(boot, 0, 0, 0, {}, 0)
            first = 3 if (boot, count) == (2, 3) else 1
            log.add_ticks([(boot, 0, tick, boot, boot, tick * 1000, 0) for tick in range(first, first + count)])
        log.greet(4, 0, 0, 0, {}, 0)
    path = tmp_path / "t.vcd"
    export(common, str(path), None, None, True)
    said = capsys.readouterr()
    assert said.out == f"5 ticks in {path}\n"
    assert said.err == (
        "handtick: boot 2 alone is written, the latest; 2 others are left out, as times begin anew with each\n"
    )
    clock = VCDVCD(str(path))["machine.clock"]
    assert sum(value == "1" for _, value in clock.tv) == 5


def test_a_tail_in_which_nothing_changes_has_its_length(tmp_path: Path) -> None:
    """Five hundred ticks with the same values last five hundred ticks."""
    path = tmp_path / "t.vcd"
    with path.open("w") as file:
        write_vcd((Tick(1, 0, number, 5, 5, number * 1000, 0) for number in range(1, 501)), WIRING, file)
    assert VCDVCD(str(path)).endtime >= 500 * 1_000_000
