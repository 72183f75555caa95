"""The lines of a CSV or JSON Lines file of ticks: which tick each is, and what it gives for which sample of a bus."""

from __future__ import annotations

import csv
import io
import json
import operator
from collections.abc import Callable, Iterable, Iterator, Sequence
from pathlib import Path
from typing import Any, NamedTuple

from handtick.errors import UsageError
from handtick.wiring import Wiring

EARLY, LATE = "early", "late"

#: What else an exported tick has.
_BESIDE = ("boot", "reset", "time_us", "flags")
_MARK = b"\xef\xbb\xbf"
_LONGEST = 40

# A bus and one of its two samples.
Place = tuple[str, str]


class Line(NamedTuple):
    """One line.

    Attributes:
        number: its number in the file, from 1.
        tick: what it says its tick is.
        reset: what it says its boot and reset are; whatever it is, the same for lines of the same reset.
        places: which samples of which buses it gives.
        values: their values as they are written, in the same order; None where it says that there is none.
    """

    number: int
    tick: str
    reset: object
    places: tuple[Place, ...]
    values: tuple[str | None, ...]


def read_lines(path: Path, wiring: Wiring) -> Iterator[Line]:
    """The lines of a file.

    Raises:
        UsageError: it can't be read, or names what is no bus.
    """
    readers = {".csv": _csv_lines, ".jsonl": _json_lines}
    if path.suffix not in readers:
        raise UsageError(f"{path}: a run's number, or a file whose name ends in .csv or .jsonl")
    return readers[path.suffix](path, io.StringIO(_text(path), newline=""), wiring)


def shortened(given: str) -> str:
    """What was given, to be shown in a message."""
    text = repr(given)
    return text if len(text) <= _LONGEST else f"{text[:_LONGEST]}..."


def _text(path: Path) -> str:
    """A file's text, without the mark that spreadsheets put in front."""
    try:
        data = path.read_bytes()
        return data.removeprefix(_MARK).decode()
    except UnicodeDecodeError as error:
        at = error.start + (len(_MARK) if data.startswith(_MARK) else 0)
        line = data.count(b"\n", 0, at) + 1
        raise UsageError(f"{path}: line {line}: byte {at} of the file is not UTF-8 text; save it as UTF-8") from error
    except OSError as error:
        raise UsageError(f"{path}: {(error.strerror or 'can not be read').lower()}") from error


def _csv_lines(path: Path, file: io.StringIO, wiring: Wiring) -> Iterator[Line]:
    table = csv.reader(file)
    try:
        heading = [name.strip() for name in next(table, [])]
        if "tick" not in heading:
            raise UsageError(
                f"{path}: line 1: a heading with a column called tick is needed, with commas between columns"
            )
        columns = _columns(f"{path}: line 1", heading, wiring)
        places, values = tuple(columns), _cells(columns.values())
        beside = _beside(heading, wiring)
        reset = _cells([heading.index(name) for name in ("boot", "reset") if name in heading and name in beside])
        tick, width = heading.index("tick"), len(heading)
        spare = [column for column, name in enumerate(heading) if not name]
        for row in table:
            if not any(row):
                continue
            if len(row) < width:
                row += [""] * (width - len(row))
            for column in (*spare, *range(width, len(row))):
                if row[column].strip():
                    where = f"{path}: line {table.line_num}"
                    raise UsageError(
                        f"{where}: {shortened(row[column])} is in column {column + 1}, which has no heading"
                    )
            yield Line(table.line_num, row[tick], reset(row), places, values(row))
    except csv.Error as error:
        raise UsageError(f"{path}: line {table.line_num}: it can't be read as CSV: {error}") from error


def _cells(columns: Iterable[int]) -> Callable[[list[str]], tuple[str, ...]]:
    """Gives what takes these cells out of a row."""
    wanted = tuple(columns)
    if len(wanted) < 2:
        return lambda row: tuple(row[column] for column in wanted)
    return operator.itemgetter(*wanted)


def _columns(where: str, heading: Sequence[str], wiring: Wiring) -> dict[Place, int]:
    """Of each sample of a bus that has one, the column."""
    beside = _beside(heading, wiring)
    columns: dict[Place, int] = {}
    for column, name in enumerate(heading):
        if name and heading.count(name) > 1:
            raise UsageError(
                f"{where}: there are {heading.count(name)} columns called {shortened(name)}; one is needed"
            )
        if not name or name in beside:
            continue
        bus, _, when = name.rpartition(" ")
        place = (bus.rstrip(), when) if bus and when in (EARLY, LATE) else (name, EARLY)
        _check(where, place[0], wiring, name)
        if place in columns:
            raise UsageError(f"{where}: there are two columns of {place[1]} samples of {place[0]}; one is needed")
        columns[place] = column
    return columns


def _json_lines(path: Path, file: io.StringIO, wiring: Wiring) -> Iterator[Line]:
    for number, line in enumerate(file, 1):
        if not line.strip():
            continue
        where = f"{path}: line {number}"
        try:
            row = json.loads(line)
        except (ValueError, RecursionError) as error:
            raise UsageError(f"{where}: it is no JSON object") from error
        if not isinstance(row, dict) or (row.get("kind", "tick") == "tick" and "tick" not in row):
            raise UsageError(f"{where}: an object with a tick is needed")
        if row.get("kind", "tick") == "tick":
            beside = _beside(row, wiring)
            reset = tuple(str(row[name]) for name in ("boot", "reset") if name in beside and name in row)
            given = dict(_given(where, row, beside, wiring))
            values = tuple(None if value is None else _written(value) for value in given.values())
            yield Line(number, _written(row["tick"]), reset, tuple(given), values)


def _written(value: object) -> str:
    """A value of JSON as it is in the file."""
    return value if isinstance(value, str) else json.dumps(value)


def _given(where: str, row: dict[str, Any], beside: Sequence[str], wiring: Wiring) -> Iterator[tuple[Place, object]]:
    """What a tick's object gives: of its buses, of those that stand beside its tick, or of the bare probes."""
    buses = row.get("buses", {})
    if not isinstance(buses, dict):
        raise UsageError(f"{where}: {shortened(_written(buses))} is no object of values by bus")
    bare = {when: row[when] for when in (EARLY, LATE) if when in row}
    if bare and not wiring.buses:
        # Its buses are those of whatever wiring file was there when it was written.
        yield from (((bus.name, when), value) for bus in wiring.shown for when, value in bare.items())
        return
    names = {name: value for name, value in row.items() if name not in (*beside, "kind", "buses", EARLY, LATE)}
    for name, value in {**names, **buses}.items():
        _check(where, name, wiring, name)
        samples = value if isinstance(value, dict) else {EARLY: value}
        if not set(samples) <= {EARLY, LATE}:
            raise UsageError(f"{where}: {name} has the samples early and late, and no others")
        yield from (((name, when), each) for when, each in samples.items())


def _beside(names: Iterable[str], wiring: Wiring) -> tuple[str, ...]:
    """What stands beside the buses in an exported tick; in a file by hand a bus may have such a name."""
    if {"boot", "reset"} <= set(names):
        return ("tick", *_BESIDE)
    buses = {bus.name for bus in wiring.shown}
    return ("tick", *(name for name in _BESIDE if name not in buses))


def _check(where: str, name: str, wiring: Wiring, said: str) -> None:
    names = [bus.name for bus in wiring.shown]
    if name not in names:
        there = (
            f"there are {', '.join(names)}"
            if wiring.buses
            else f"there is {names[0]}; name the wiring file with --wiring"
        )
        raise UsageError(f"{where}: {shortened(said)} names no bus of the wiring; {there}")
