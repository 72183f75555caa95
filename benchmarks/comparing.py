"""Comparing two runs of a log, as `handtick compare` does, against the way anybody would write first."""

from __future__ import annotations

import contextlib
import io
import sqlite3
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks.heard import MILLION, WIRING, fill, larch_wiring
from benchmarks.rows import Row, speed
from handtick.cli.common import Common
from handtick.cli.lockstep import compare
from handtick.errors import Differs

TITLE = "Comparing"
NOTE = (
    "The whole command on two runs of one log. The plain way reads the same rows and compares bus by bus, tick by "
    "tick; it finds the first difference and looks for no cause."
)
_RUNS = 3


def rows() -> Iterator[Row]:
    """Runs that are the same, and runs of which one has a fault whose cause is looked for."""
    for what, fault in (("two runs that are the same", None), ("a line stuck in one of them", "stuck:0=1")):
        with tempfile.TemporaryDirectory() as folder:
            log = Path(folder) / "log.sqlite3"
            fill(log, MILLION)
            fill(log, MILLION, fault, boot=2)
            first, second = runs_of(log)
            yield speed(
                what,
                lambda log=log, first=first, second=second: _ours(log, first, second),  # type: ignore[misc]
                "the plain way",
                lambda log=log: _plain(log),  # type: ignore[misc]
                MILLION,
                runs=_RUNS,
                aim="20 or more",
            )


def runs_of(log: Path) -> list[str]:
    with sqlite3.connect(log) as connection:
        return [str(run) for (run,) in connection.execute("SELECT id FROM run ORDER BY id")]


def _ours(log: Path, first: str, second: str) -> None:
    with contextlib.redirect_stdout(io.StringIO()), contextlib.suppress(Differs):
        compare(Common(log=log, wiring=WIRING), first, second, False)


def _plain(log: Path) -> tuple[int, int]:
    """The first tick that differs, and how many do."""
    buses = larch_wiring().buses
    first = differing = 0
    with sqlite3.connect(log) as connection:
        want = dict(connection.execute("SELECT tick, early FROM tick WHERE boot = 1"))
        for tick, early in connection.execute("SELECT tick, early FROM tick WHERE boot = 2 ORDER BY tick"):
            if tick in want and any(bus.value(want[tick]) != bus.value(early) for bus in buses):
                first = first or tick
                differing += 1
    return first, differing
