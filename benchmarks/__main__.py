"""Measures, prints the table and writes it to docs/benchmark.md.

Usage: ``python -m benchmarks [TOPIC...]``; with topics, only those are measured and written.
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
TOPICS = (
    "start_up",
    "wire",
    "logs",
    "steps",
    "virtual",
    "comparing",
    "repeating",
    "exporting",
    "classroom",
    "ten_million",
)
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
        for name in wanted or TOPICS:
            page.put(PAGE, name, _measured(name))
    return 0


def _measured(name: str) -> str:
    """Measures a topic and prints its rows; gives them in Markdown."""
    topic = importlib.import_module(f"benchmarks.{name}")
    rows = list(topic.rows())
    page.show(topic.TITLE, rows)
    return f"{page.section(topic.TITLE, topic.NOTE, rows)}\n{page.computer()}, {datetime.date.today()}.\n"


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
