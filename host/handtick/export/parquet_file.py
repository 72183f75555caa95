"""Parquet: a row a tick, a column an early and a late value of each bus; through pyarrow, in row groups."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Any

from handtick.errors import HandtickError
from handtick.log import Tick
from handtick.wiring import Wiring

# What a file says of each of its row groups is held until it is closed: few large ones, however many ticks.
_GROUP = 65_536

_Values = Callable[[int], tuple[int, ...]]


def write_parquet(ticks: Iterable[Tick], wiring: Wiring, path: Path) -> int:
    """Writes ticks as a Parquet file; values are null where no sample was taken.

    Returns:
        How many ticks were written.

    Raises:
        HandtickError: pyarrow is not installed.
    """
    try:
        import pyarrow as arrow
        from pyarrow import parquet
    except ImportError as error:
        raise HandtickError("Parquet needs pyarrow; run: pip install 'handtick[parquet]'") from error
    schema = arrow.schema(
        [
            ("boot", arrow.uint64()),
            ("reset", arrow.uint64()),
            ("tick", arrow.uint64()),
            ("time_us", arrow.uint64()),
            ("flags", arrow.uint32()),
            *(
                (f"{bus.name} {when}", arrow.uint64() if bus.width > 32 else arrow.uint32())
                for bus in wiring.shown
                for when in ("early", "late")
            ),
        ]
    )
    read = wiring.reader()
    count = 0
    with parquet.ParquetWriter(path, schema) as writer:
        for group in _groups(ticks):
            writer.write_table(arrow.table(_columns(group, schema, read), schema=schema))
            count += len(group)
    return count


def _groups(ticks: Iterable[Tick]) -> Iterator[list[Tick]]:
    rest = iter(ticks)
    while group := list(islice(rest, _GROUP)):
        yield group


def _columns(group: list[Tick], schema: Any, read: _Values) -> list[Any]:
    """The columns of a group, in the schema's order."""
    boot, reset, tick, early, late, time_us, flags = zip(*group, strict=True)
    types = schema.types
    halves = _of_buses(early, types[5::2], read), _of_buses(late, types[6::2], read)
    return [boot, reset, tick, time_us, flags, *(column for both in zip(*halves, strict=True) for column in both)]


def _of_buses(samples: Sequence[int | None], types: Sequence[Any], read: _Values) -> list[Any]:
    """A column for each bus. Of a machine's few states each is read once, and then put wherever it was."""
    import pyarrow as arrow

    places = {sample: place for place, sample in enumerate(dict.fromkeys(samples))}
    none = (None,) * len(types)
    states = zip(*(none if sample is None else read(sample) for sample in places), strict=True)
    order = arrow.array([places[sample] for sample in samples], arrow.int32())
    return [arrow.array(column, each).take(order) for column, each in zip(states, types, strict=True)]
