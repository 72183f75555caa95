"""Measures, prints the table and writes it to docs/benchmark.md.

Usage: ``python -m benchmarks [TOPIC...]``; with topics, only those are measured and the page stays as it is.
"""

from __future__ import annotations

import datetime
import importlib
import os
import sys
import tempfile
from pathlib import Path

from benchmarks import page

#: The modules, in the order of the table. Each has TITLE, NOTE and rows().
TOPICS = ("start_up", "wire", "logs", "steps", "virtual", "comparing", "repeating", "exporting", "ten_million")
PAGE = Path(__file__).parents[1] / "docs" / "benchmark.md"


def main(wanted: list[str]) -> int:
    """Measures the topics wanted, or all; returns the exit status."""
    unknown = set(wanted) - set(TOPICS)
    if unknown:
        print(f"no topic {', '.join(sorted(unknown))}; there are {', '.join(TOPICS)}", file=sys.stderr)
        return 2
    with tempfile.TemporaryDirectory() as state:
        # No virtual board that is served on this computer already, and none of its boot numbers.
        os.environ["HANDTICK_STATE"] = state
        sections = [_measured(name) for name in wanted or TOPICS]
    if not wanted:
        where = f"On {datetime.date.today()}: {page.computer()}.\n"
        page.put(PAGE, "this computer", "\n".join([where, *sections]))
        print(f"wrote {PAGE.name}")
    return 0


def _measured(name: str) -> str:
    """Measures a topic and prints its rows; gives them in Markdown."""
    topic = importlib.import_module(f"benchmarks.{name}")
    rows = list(topic.rows())
    page.show(topic.TITLE, rows)
    return page.section(topic.TITLE, topic.NOTE, rows)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
