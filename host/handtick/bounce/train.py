"""A contact's train: when it was made and when it was open, as recorded or read from a file."""

from __future__ import annotations

import csv
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from pathlib import Path

from handtick.errors import UsageError
from handtick.whole_file import whole_file

#: How long a recording goes on after its last edge, in microseconds, where it does not say.
QUIET_US = 100_000

# Heading of the column of times: microseconds in one of its units.
_UNITS = {"time_us": 1, "time_ms": 1000, "time_s": 1_000_000}
_MOST_ROWS = 1_000_000


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch with the contact made or open: ``start_us`` to ``end_us``."""

    start_us: int
    end_us: int
    closed: bool

    @property
    def length_us(self) -> int:
        """How long it lasted."""
        return self.end_us - self.start_us


class Train:
    """Levels of a contact over time.

    Args:
        levels: (microseconds, closed) from each of which on the contact has that level, in order of time; a level that
            repeats is no edge. The first is where the contact stands.
        end_us: until when it was watched; None for ``QUIET_US`` after the last.

    Attributes:
        edges: (microseconds, closed) without repeats, the first level in front.
        end_us: until when it was watched, in microseconds.

    Raises:
        ValueError: there is no level, or times go backwards.
    """

    def __init__(self, levels: Iterable[tuple[int, bool | int]], end_us: int | None = None) -> None:
        edges: list[tuple[int, bool]] = []
        last_us: int | None = None
        for at_us, closed in levels:
            if last_us is not None and at_us < last_us:
                raise ValueError(f"{at_us} us comes after {last_us} us")
            if at_us == last_us and len(edges) > 1 and edges[-1][0] == at_us:
                # Two levels at one time: the contact has the second, and had the first for no time at all.
                edges.pop()
            last_us = at_us
            if not edges or bool(closed) != edges[-1][1]:
                edges.append((at_us, bool(closed)))
        if last_us is None:
            raise ValueError("there is no level in it")
        self.edges = tuple(edges)
        self.end_us = last_us + QUIET_US if end_us is None else max(end_us, last_us)

    @property
    def spans(self) -> list[Span]:
        """The stretches between edges; spans of no length are left out."""
        ends = [at_us for at_us, _ in self.edges[1:]] + [self.end_us]
        spans = [Span(at_us, end_us, closed) for (at_us, closed), end_us in zip(self.edges, ends, strict=True)]
        return [span for span in spans if span.length_us > 0]


def read_train(path: Path) -> Train:
    """Reads a CSV file of times and levels: under a heading ``time_us``, ``time_ms`` or ``time_s``, then ``closed``.

    Without a heading, times are microseconds. A last row that repeats the level says how long was watched.

    Raises:
        UsageError: it can't be read, or a row is no time and level.
    """
    try:
        with path.open(encoding="utf-8-sig", newline="") as file:
            rows = [(number, row) for number, row in enumerate(csv.reader(file), 1) if row]
    except OSError as error:
        raise UsageError(f"{path}: {(error.strerror or 'can not be read').lower()}") from error
    except (UnicodeDecodeError, csv.Error) as error:
        raise UsageError(f"{path}: can't be read as a CSV file: {error}") from error
    unit = 1
    if rows and rows[0][1][0].strip() in _UNITS:
        unit = _UNITS[rows.pop(0)[1][0].strip()]
    if len(rows) > _MOST_ROWS:
        raise UsageError(f"{path}: has more than {_MOST_ROWS} rows")
    levels = [_level(path, number, row, unit) for number, row in rows]
    end_us = levels[-1][0] if len(levels) > 1 and levels[-1][1] == levels[-2][1] else None
    try:
        return Train(levels, end_us)
    except ValueError as error:
        raise UsageError(f"{path}: {error}; give rows of a time and 1 (closed) or 0, in order") from error


def write_train(path: Path, train: Train) -> None:
    """Writes a CSV file that ``read_train`` reads.

    Raises:
        HandtickError: it can't be written.
    """
    rows = [*train.edges, (train.end_us, train.edges[-1][1])]
    with whole_file(path) as part, part.open("w", encoding="utf-8", newline="") as file:
        writer = csv.writer(file)
        writer.writerow(("time_us", "closed"))
        writer.writerows((at_us, int(closed)) for at_us, closed in rows)


def _level(path: Path, number: int, row: list[str], unit: int) -> tuple[int, bool]:
    try:
        time = Decimal(row[0].strip())
        if len(row) != 2 or row[1].strip() not in ("0", "1") or not 0 <= time * unit < 2**62:
            raise ValueError
    except (ArithmeticError, ValueError) as error:
        raise UsageError(
            f"{path}, line {number}: {','.join(row)[:40]!r} is no time and level, such as 1180,0"
        ) from error
    return round(time * unit), row[1].strip() == "1"
