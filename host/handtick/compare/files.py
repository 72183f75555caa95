"""Reads an expectation from CSV or JSON Lines, as `log export` writes them or as people write them by hand.

A value is a number, empty or ``x`` where anything may be, or a number with don't-care digits such as ``0b10x1`` or
``0x2x``.
"""

from __future__ import annotations

import csv
import json
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from handtick.compare.trace import Row, Trace, line_names
from handtick.errors import UsageError
from handtick.wiring import Bus, Wiring

_Cell = Callable[[Bus], object]


def read_trace(path: Path, wiring: Wiring, late: bool = False) -> Trace:
    """Reads a file of ticks.

    Args:
        path: ``.csv`` with a heading, or ``.jsonl``. A column is ``NAME early``, ``NAME late`` or just ``NAME``.
        wiring: the names; a bus the file does not have does not matter.
        late: whether late samples are wanted; a column with a bare name stands for either.

    Raises:
        UsageError: it can't be read; the message names the line.
    """
    readers = {".csv": _csv_rows, ".jsonl": _json_rows}
    if path.suffix not in readers:
        raise UsageError(f"{path}: a run's number, or a file whose name ends in .csv or .jsonl")
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = [
                _row(path, line, tick, cell, wiring)
                for line, tick, cell in readers[path.suffix](path, file, "late" if late else "early")
            ]
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: byte {error.start} is not UTF-8 text") from error
    except OSError as error:
        raise UsageError(f"{path}: {(error.strerror or 'can not be read').lower()}") from error
    # In order, whatever the order of a file by hand; of a tick that is there twice, the later line.
    by_tick = {row.tick: row for row in rows}
    return Trace(line_names(wiring), tuple(by_tick[tick] for tick in sorted(by_tick)))


def _csv_rows(path: Path, file: Any, when: str) -> Iterator[tuple[int, object, _Cell]]:
    table = csv.DictReader(file)
    if table.fieldnames is None or "tick" not in table.fieldnames:
        raise UsageError(f"{path}: line 1: a heading with a column called tick is needed")
    for row in table:

        def cell(bus: Bus, row: dict[str, str] = row) -> object:
            return row.get(f"{bus.name} {when}", row.get(bus.name))

        yield table.line_num, row["tick"], cell


def _json_rows(path: Path, file: Any, when: str) -> Iterator[tuple[int, object, _Cell]]:
    for number, line in enumerate(file, 1):
        if not line.strip():
            continue
        try:
            row = json.loads(line)
        except ValueError as error:
            raise UsageError(f"{path}: line {number}: it is no JSON object") from error
        if not isinstance(row, dict) or "tick" not in row:
            raise UsageError(f"{path}: line {number}: an object with a tick is needed")
        if row.get("kind", "tick") != "tick":
            continue

        def cell(bus: Bus, row: dict[str, Any] = row) -> object:
            value = row.get("buses", {}).get(bus.name, row.get(bus.name))
            if bus.name == "probes" and value is None:
                return row.get(when)
            return value.get(when) if isinstance(value, dict) else value

        yield number, row["tick"], cell


def _row(path: Path, line: int, tick: object, cell: _Cell, wiring: Wiring) -> Row:
    number = _value(str(tick), 64)
    if number is None or number[1] != (1 << 64) - 1:
        raise UsageError(f"{path}: line {line}: {tick!r} is no tick number")
    bits = care = at = 0
    for bus in wiring.shown:
        given = cell(bus)
        value = (0, 0) if given is None else _value(str(given), bus.width)
        if value is None:
            raise UsageError(f"{path}: line {line}: {given!r} is no value of {bus.name}, which has {bus.width} bits")
        bits |= value[0] << at
        care |= value[1] << at
        at += bus.width
    return Row(number[0], bits, care)


def _value(text: str, width: int) -> tuple[int, int] | None:
    """A value and which of its bits count; None where it is none."""
    whole = (1 << width) - 1
    word = text.strip().lower().replace("_", "")
    if word in ("", "x"):
        return 0, 0
    digit_bits = {"0b": 1, "0x": 4}.get(word[:2])
    digits = word[2:] if digit_bits else word
    unknown = 0
    if digit_bits and "x" in digits:
        for place, digit in enumerate(reversed(digits)):
            if digit == "x":
                unknown |= ((1 << digit_bits) - 1) << place * digit_bits
        digits = digits.replace("x", "0")
    try:
        value = int(digits, {1: 2, 4: 16, None: 10}[digit_bits])
    except ValueError:
        return None
    if not digits or value > whole or len(word) > 90:
        return None
    return value, whole & ~unknown
