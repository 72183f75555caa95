"""Parquet: a row a tick, a column an early and a late value of each bus; through pyarrow, in row groups."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from handtick.errors import HandtickError
from handtick.log import Tick
from handtick.wiring import Bus, Wiring

_GROUP = 4096

_Reader = Callable[[int], tuple[int, ...]]


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
    buses = wiring.shown
    schema = arrow.schema(
        [
            ("boot", arrow.uint64()),
            ("reset", arrow.uint64()),
            ("tick", arrow.uint64()),
            ("time_us", arrow.uint64()),
            ("flags", arrow.uint32()),
            *(
                (f"{bus.name} {when}", arrow.uint64() if bus.width > 32 else arrow.uint32())
                for bus in buses
                for when in ("early", "late")
            ),
        ]
    )
    read = wiring.reader()
    count = 0
    with parquet.ParquetWriter(path, schema) as writer:
        for group in _groups(ticks):
            writer.write_table(arrow.table(_columns(group, buses, read), schema=schema))
            count += len(group)
    return count


def _groups(ticks: Iterable[Tick]) -> Iterator[list[Tick]]:
    rest = iter(ticks)
    while group := list(islice(rest, _GROUP)):
        yield group


def _columns(group: list[Tick], buses: tuple[Bus, ...], read: _Reader) -> dict[str, list[Any]]:
    columns: dict[str, list[Any]] = {
        name: [getattr(tick, name) for tick in group] for name in ("boot", "reset", "tick", "time_us", "flags")
    }
    none = (None,) * len(buses)
    for when in ("early", "late"):
        samples = [getattr(tick, when) for tick in group]
        values = zip(*(none if sample is None else read(sample) for sample in samples), strict=True)
        columns |= {f"{bus.name} {when}": list(column) for bus, column in zip(buses, values, strict=True)}
    return columns
