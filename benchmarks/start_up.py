"""How long a command takes to start, as a user waits for it: whole processes of the installed program."""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks.rows import Row, Work, milliseconds, seconds

TITLE = "Start-up"
NOTE = "Processor time of whole processes; 1 is as long as Python itself takes."
HANDTICK = str(Path(sys.executable).with_name("handtick"))
_RUNS = 15


def rows() -> Iterator[Row]:
    """A process each."""
    with tempfile.TemporaryDirectory() as folder:
        bare = _process(folder, sys.executable, "-c", "pass")
        for words, aim in (
            (("--version",), "at most 4"),
            (("--help",), "at most 4"),
            (("--board", "virtual", "status"), "at most 4"),
        ):
            ours_s, bare_s = seconds(_process(folder, HANDTICK, *words), bare, runs=_RUNS, clock=_children_s)
            floor = f"`python -c pass`: {milliseconds(bare_s)}"
            name = f"`handtick {' '.join(words)}`"
            yield Row(name, milliseconds(ours_s), floor, ours_s / bare_s, _RUNS, aim)


def _children_s() -> float:
    """Processor time of all processes started here that have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def _process(folder: str, *words: str) -> Work:
    # Python keeps compiled modules, as it does where people type.
    keeping = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}

    def run() -> None:
        subprocess.run(words, cwd=folder, env=keeping, stdout=subprocess.DEVNULL, check=True)

    return run
