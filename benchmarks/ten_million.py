"""A log of ten million ticks: how fast something in it is found, and what memory each command takes of it."""

from __future__ import annotations

import contextlib
import io
import subprocess
import sys
import tempfile
import time
from collections.abc import Iterator
from pathlib import Path

from benchmarks.comparing import runs_of
from benchmarks.heard import MILLION, WIRING, fill
from benchmarks.repeating import check, long_model
from benchmarks.rows import Row, milliseconds, per_second, seconds
from benchmarks.start_up import HANDTICK
from handtick.cli.common import Common
from handtick.cli.show import show_log
from handtick.errors import Differs
from handtick.virtual.rain_tally import RAIN_TALLY

TITLE = "Ten million ticks"
NOTE = (
    "One log, made by the virtual board: 138 ticks of a program that halts, ten million of one that does not, and as "
    "many of that one with a line stuck. The memory is the most that the whole process had, the floor the same on a "
    "log of a hundred thousand ticks each. `compare` compares the two long runs, exports are of the last one, to "
    "standard output where the form allows it. A run's rows wait for their commit, a second at most, or 65,536 of "
    "them. `check`, far slower, is measured at a hundred thousand ticks and a million."
)
FEW, MANY = MILLION // 10, 10 * MILLION
_STUCK = "stuck:0=1"
_HALTS = "taker == 12"

# A process counts the memory of the one that started it as its own, so a small one starts it.
_STARTER = """
import resource, subprocess, sys
assert subprocess.run(sys.argv[2:], stdout=subprocess.DEVNULL).returncode == int(sys.argv[1])
print(resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss)
"""

#: Commands whose memory is measured. Of a run, that of the board it runs on, in the same process, is part.
_COMMANDS = {
    "log list": ("log", "list"),
    "log show --last 10": ("log", "show", "--last", "10"),
    f"log show --where '{_HALTS}'": ("log", "show", "--where", _HALTS),
    "log check": ("log", "check"),
    "diagram": ("diagram", "--ticks", "50000..50020"),
}


def rows() -> Iterator[Row]:
    """Making it, finding in it, and memory."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        few, many = folder / "few.sqlite3", folder / "many.sqlite3"
        began = time.monotonic()
        least = _made(few, FEW)
        most = _made(many, MANY)
        took_s = time.monotonic() - began
        yield Row("made and logged", per_second(2 * (FEW + MANY) / took_s), runs=1)
        for what, ticks, where in (
            ("`log show --ticks 7654321..7654321`", "7654321..7654321", None),
            (f"`log show --where '{_HALTS}'`", None, _HALTS),
        ):
            took_s = seconds(lambda ticks=ticks, where=where: _shown(many, ticks, where))[0]  # type: ignore[misc]
            yield Row(what, milliseconds(took_s), aim="under 50 ms")
        yield _memory("memory of a run, logged", least, most)
        for what, words in _COMMANDS.items():
            yield _memory(f"memory of `{what}`", *(_of_command(folder, log, words) for log in (few, many)))
        yield from _exported(folder, few, many)
        yield _memory("memory of `compare`", *(_of_comparing(folder, log) for log in (few, many)))
        yield _memory("memory of `check`", *(_checked(folder, ticks) for ticks in (FEW, MILLION)))


def _exported(folder: Path, few: Path, many: Path) -> Iterator[Row]:
    """Memory of exports. To standard output, as the largest would be two gigabytes of a disk; Parquet needs a file."""
    for form, file in (("csv", "-"), ("jsonl", "-"), ("vcd", "-"), ("parquet", "ticks.parquet")):
        words = ("log", "export", "--ticks", f"1..{MANY}", "--form", form, file)
        yield _memory(
            f"memory of `log export --form {form}`", *(_of_command(folder, log, words) for log in (few, many))
        )


def _made(log: Path, ticks: int) -> int:
    """Makes a log in a process of its own; gives the most memory that had, in bytes."""
    return _of_own(f"make({str(log)!r}, {ticks})")


def make(log: str, ticks: int) -> None:
    """The run that halts, the one without an end, and that one with a fault."""
    fill(Path(log), None, program=RAIN_TALLY)
    fill(Path(log), ticks, boot=2)
    fill(Path(log), ticks, _STUCK, boot=3)


def _checked(folder: Path, ticks: int) -> int:
    """Checks a run against a model in a process of its own; gives the most memory that had, in bytes."""
    return _of_own(f"checked({str(folder)!r}, {ticks})")


def checked(folder: str, ticks: int) -> None:
    """A run beside its model, as `handtick check` makes it."""
    check(Path(folder) / "checked.sqlite3", long_model(Path(folder)), ticks)


def _shown(log: Path, ticks: str | None, where: str | None) -> None:
    with contextlib.redirect_stdout(io.StringIO()) as said:
        show_log(Common(log=log, wiring=WIRING, json=True), None, ticks, where)
    assert said.getvalue().count('"kind": "tick"') == 1


def _of_own(call: str) -> int:
    """The most memory that a call of a function of this module takes in a process of its own."""
    return _peak(
        Path(__file__).parents[1], sys.executable, "-c", f"from benchmarks import ten_million as it; it.{call}"
    )


def _of_comparing(folder: Path, log: Path) -> int:
    _, healthy, faulty = runs_of(log)
    return _of_command(folder, log, ("compare", healthy, faulty), Differs.exit_status)


def _of_command(folder: Path, log: Path, words: tuple[str, ...], status: int = 0) -> int:
    return _peak(folder, HANDTICK, "--log", str(log), "--wiring", str(WIRING), *words, status=status)


def _peak(folder: Path, *words: str, status: int = 0) -> int:
    """The most memory that a process had which ends with a status, in bytes."""
    ended = subprocess.run(
        [sys.executable, "-c", _STARTER, str(status), *words], cwd=folder, capture_output=True, text=True, check=True
    )
    return int(ended.stdout) * (1 if sys.platform == "darwin" else 1024)


def _memory(what: str, few: int, many: int) -> Row:
    return Row(what, f"{many / 2**20:.0f} MiB", f"{FEW:,} ticks: {few / 2**20:.0f} MiB", many / few, 1, "about 1")
