"""Rewrites the generated parts of the documentation from the code, so that they can't drift from it.

A page marks where a part goes with ``<!-- generated: NAME -->`` and ``<!-- end -->``.

Usage: ``python -m handtick.reference docs [--check]``; with ``--check`` nothing is written and stale pages are named.
"""

from __future__ import annotations

import re
import sys
from collections.abc import Callable
from pathlib import Path

from handtick.api_page import api_table
from handtick.bounce.example import bounce_svg
from handtick.class_page import bound_table, deed_table, topic_table
from handtick.clock_page import phase_table
from handtick.clock_picture import clock_svg
from handtick.command_page import command_list, status_table
from handtick.log import schema_table
from handtick.one_shot_picture import one_shot_svg
from handtick.settings_page import light_table, pin_table, settings_table
from handtick.virtual.larch_code import instruction_table
from handtick.virtual.rain_tally import rain_tally_listing
from handtick.wire_page import (
    command_table,
    conductor_diagram,
    conductor_table,
    reason_table,
    report_tables,
    stop_rule_words,
)

#: Every generated part, by the name its pages call it.
PARTS: dict[str, Callable[[], str]] = {
    "class bounds": bound_table,
    "class messages": deed_table,
    "class topics": topic_table,
    "clock phases": phase_table,
    "commands": command_list,
    "commands on the wire": command_table,
    "conductor diagram": conductor_diagram,
    "conductor table": conductor_table,
    "exit statuses": status_table,
    "instruction table": instruction_table,
    "light": light_table,
    "log tables": schema_table,
    "pins": pin_table,
    "python api": api_table,
    "rain tally": rain_tally_listing,
    "reasons": reason_table,
    "reports": report_tables,
    "settings": settings_table,
    "stop rule words": stop_rule_words,
}

#: Every picture that the code draws, by its name under docs/.
PICTURES: dict[str, Callable[[], str]] = {
    "pictures/bounce.svg": bounce_svg,
    "pictures/clock-engine.svg": clock_svg,
    "pictures/one-shot.svg": one_shot_svg,
}

_MARK = re.compile(r"(<!-- generated: ([^>]+?) -->\n).*?(<!-- end -->)", re.DOTALL)


def refreshed(page: str) -> str:
    """The page with every generated part as the code has it now.

    Raises:
        KeyError: the page asks for a part that nothing makes.
    """
    return _MARK.sub(lambda found: found[1] + PARTS[found[2]]() + found[3], page)


def stale_pages(folder: Path) -> dict[Path, str]:
    """The pages under ``folder`` whose generated parts are not what the code says, each as it should be."""
    stale = {}
    for path in sorted(folder.rglob("*.md")):
        page = path.read_text(encoding="utf-8")
        if refreshed(page) != page:
            stale[path] = refreshed(page)
    return stale


def stale_pictures(folder: Path) -> dict[Path, str]:
    """The pictures that are not what the code draws, each as it should be."""
    stale = {}
    for name, draw in PICTURES.items():
        path = folder / name
        text = draw()
        if not path.is_file() or path.read_text(encoding="utf-8") != text:
            stale[path] = text
    return stale


def main(arguments: list[str]) -> int:
    """Rewrites or checks the pages and pictures of a folder; returns the exit status."""
    folder = Path(arguments[0])
    stale = {**stale_pages(folder), **stale_pictures(folder)}
    for path, page in stale.items():
        if "--check" in arguments:
            print(f"{path} is not what the code says; run: make docs", file=sys.stderr)
        else:
            path.parent.mkdir(parents=True, exist_ok=True)
            path.write_text(page, encoding="utf-8")
            print(f"wrote {path}")
    return 1 if stale and "--check" in arguments else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
