"""CSV (RFC 4180): a row a tick, a column an early and a late value of each bus."""

from __future__ import annotations

import csv
import functools
import io
import itertools
from collections.abc import Callable, Iterable
from typing import TextIO

from handtick.log import Tick
from handtick.wiring import Wiring
from handtick.wiring.model import STATES


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
    csv.writer(file).writerow(heading)
    values = _values(wiring)
    count = 0
    for boot, reset, tick, early, late, time_us, flags in ticks:
        when = f"{time_us}," if times else ""
        file.write(f"{boot},{reset},{tick},{when}{flags},{values(early, late)}")
        count += 1
    return count


def _values(wiring: Wiring) -> Callable[[int | None, int | None], str]:
    """Gives what writes the end of a row from its samples; as in ``Wiring.reader``, once for each state."""
    read, none = wiring.reader(), ("",) * len(wiring.shown)

    @functools.lru_cache(STATES)
    def written(early: int | None, late: int | None) -> str:
        pairs = zip(*(none if sample is None else read(sample) for sample in (early, late)), strict=True)
        text = io.StringIO()
        csv.writer(text).writerow(itertools.chain.from_iterable(pairs))
        return text.getvalue()

    return written
