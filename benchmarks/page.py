"""Where the table goes: the terminal, and a page of the documentation."""

from __future__ import annotations

import os
import platform
import re
import sqlite3
import sys
from collections.abc import Sequence
from pathlib import Path

from benchmarks.rows import Row

HEADINGS = ("what", "figure", "against", "ratio", "should be", "runs")


def cells(row: Row) -> tuple[str, ...]:
    """A row's cells, under the headings."""
    ratio = "" if row.ratio is None else f"{row.ratio:.2g}" if row.ratio < 10 else f"{row.ratio:.0f}"
    return row.what, row.figure, row.floor, ratio, row.aim, str(row.runs)


def show(title: str, rows: Sequence[Row]) -> None:
    """Prints one topic's rows."""
    from rich.console import Console
    from rich.table import Table

    table = Table(title=title, title_justify="left")
    for heading in HEADINGS:
        table.add_column(heading, justify="right" if heading in ("ratio", "runs") else "left")
    for row in rows:
        table.add_row(*cells(row))
    Console().print(table)


def section(title: str, note: str, rows: Sequence[Row]) -> str:
    """One topic in Markdown."""
    lines = [f"### {title}", "", note, "", _line(HEADINGS), _line(["---"] * len(HEADINGS))]
    return "\n".join([*lines, *(_line(cells(row)) for row in rows)]) + "\n"


def put(page: Path, name: str, text: str) -> None:
    """Replaces what stands between a page's marks for ``name``.

    Raises:
        ValueError: the page has no such marks.
    """
    marks = re.compile(rf"(<!-- measured: {re.escape(name)} -->\n).*?(<!-- end -->)", re.DOTALL)
    whole, count = marks.subn(lambda found: found[1] + text + found[2], page.read_text(encoding="utf-8"))
    if count != 1:
        raise ValueError(f"{page.name} has no place for what was measured of {name}")
    page.write_text(whole, encoding="utf-8")


def computer() -> str:
    """The computer in a line: what matters to speed, and nothing that names it."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES") / 2**30
    return (
        f"{platform.machine()} with {os.cpu_count()} processors{_processor()} and {memory:.0f} GiB of memory, "
        f"{platform.system()}; Python {platform.python_version()} ({sys.implementation.name}), "
        f"SQLite {sqlite3.sqlite_version}"
    )


def _processor() -> str:
    """How fast a processor is clocked, where the system says so."""
    try:
        found = re.search(r"cpu MHz\s*: ([\d.]+)", Path("/proc/cpuinfo").read_text(encoding="utf-8"))
    except OSError:
        return ""
    return "" if found is None else f" at {float(found[1]) / 1000:.1f} GHz"


def _line(cells: Sequence[str]) -> str:
    return f"| {' | '.join(cells)} |"
