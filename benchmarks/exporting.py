"""Writing the ticks of a log to files, as `handtick log export` does, against the libraries that write the formats."""

from __future__ import annotations

import contextlib
import csv
import functools
import io
import json
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

from benchmarks.heard import MILLION, WIRING, fill, larch_wiring
from benchmarks.rows import Row, speed
from handtick.cli.common import Common
from handtick.cli.logs import export
from handtick.export import tick_object
from handtick.log import LogReader, Tick

TITLE = "Exports"
NOTE = (
    "The whole command. The bare library writes the same values, made ready before: a tenth as many ticks, as they "
    "would not fit in memory at once. It works out each tick's text anew, the command each state's once."
)
_TENTH = MILLION // 10


def rows() -> Iterator[Row]:
    """Each format."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        log = folder / "log.sqlite3"
        fill(log, MILLION)
        with LogReader.open(log) as reader:
            ticks = list(reader.ticks(1, 0, 1, _TENTH))
        for form, floor in (("csv", _csv), ("jsonl", _json), ("vcd", _vcd), ("parquet", _parquet)):
            target = folder / f"ticks.{form}"
            yield speed(
                form,
                functools.partial(_export, log, target),
                "the library alone",
                floor(ticks, folder / f"bare.{form}"),
                MILLION,
                runs=3,
                floor_count=_TENTH,
            )


def _export(log: Path, target: Path) -> None:
    with contextlib.redirect_stdout(io.StringIO()) as said:
        export(Common(log=log, wiring=WIRING, json=True), str(target), None, None, True)
    assert json.loads(said.getvalue())["ticks"] == MILLION


def _csv(ticks: list[Tick], path: Path) -> Callable[[], object]:
    table = [_values(tick) for tick in ticks]

    def write() -> None:
        with path.open("w", newline="", encoding="utf-8") as file:
            csv.writer(file).writerows(table)

    return write


def _json(ticks: list[Tick], path: Path) -> Callable[[], object]:
    objects = [tick_object(tick, larch_wiring()) for tick in ticks]

    def write() -> None:
        with path.open("w", encoding="utf-8") as file:
            for each in objects:
                file.write(json.dumps(each) + "\n")

    return write


def _vcd(ticks: list[Tick], path: Path) -> Callable[[], object]:
    from vcd import VCDWriter

    buses = larch_wiring().buses
    changes = [
        (1000 * tick.time_us + place, at, value)
        for tick in ticks
        for place, sample in ((0, tick.early), (1, tick.late))
        for at, value in enumerate((1 - place, *(bus.value(sample or 0) for bus in buses)))
    ]

    def write() -> None:
        with path.open("w", encoding="utf-8") as file, VCDWriter(file, timescale="1 ns") as writer:
            signals = [writer.register_var("machine", "clock", "wire", size=1)]
            signals += [writer.register_var("machine", bus.name, "wire", size=bus.width) for bus in buses]
            for time_ns, at, value in changes:
                writer.change(signals[at], time_ns, value)

    return write


def _parquet(ticks: list[Tick], path: Path) -> Callable[[], object]:
    import pyarrow as arrow
    from pyarrow import parquet

    names = ["boot", "reset", "tick", "time_us", "flags"]
    names += [f"{bus.name} {when}" for bus in larch_wiring().buses for when in ("early", "late")]
    columns = dict(zip(names, (list(column) for column in zip(*map(_values, ticks), strict=True)), strict=True))

    def write() -> None:
        parquet.write_table(arrow.table(columns), path)

    return write


def _values(tick: Tick) -> list[int]:
    values = [tick.boot, tick.reset, tick.tick, tick.time_us, tick.flags]
    for bus in larch_wiring().buses:
        values += [bus.value(tick.early or 0), bus.value(tick.late or 0)]
    return values
