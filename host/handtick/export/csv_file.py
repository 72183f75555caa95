"""CSV (RFC 4180): a row a tick, a column an early and a late value of each bus."""

from __future__ import annotations

import csv
import itertools
from collections.abc import Iterable
from typing import TextIO

from handtick.log import Tick
from handtick.wiring import Wiring


def write_csv(ticks: Iterable[Tick], wiring: Wiring, file: TextIO, times: bool = True) -> int:
    """Writes ticks as CSV with a heading row; values are decimal, and empty where no sample was taken.

    Args:
        ticks: the ticks, in the order to be written.
        wiring: names the columns; without names there is one, `probes`.
        file: open for text with ``newline=""``.
        times: whether there is a column with the board's time in microseconds.

    Returns:
        How many ticks were written.
    """
    heading = ["boot", "reset", "tick", *(["time_us"] if times else []), "flags"]
    for bus in wiring.shown:
        heading += [f"{bus.name} early", f"{bus.name} late"]
    writer = csv.writer(file)
    writer.writerow(heading)
    read, none = wiring.reader(), ("",) * len(wiring.shown)
    count = 0
    for tick in ticks:
        early: tuple[object, ...] = none if tick.early is None else read(tick.early)
        late: tuple[object, ...] = none if tick.late is None else read(tick.late)
        when = (tick.time_us,) if times else ()
        values = itertools.chain.from_iterable(zip(early, late, strict=True))
        writer.writerow((tick.boot, tick.reset, tick.tick, *when, tick.flags, *values))
        count += 1
    return count
