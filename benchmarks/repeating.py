"""Runs that are judged as they are made: a model beside them, the same run again and again, a stop rule."""

from __future__ import annotations

import contextlib
import tempfile
from collections.abc import Iterator
from pathlib import Path

from benchmarks.heard import EXAMPLES, RATE, larch_wiring
from benchmarks.rows import Row, speed
from handtick.bench import Bench
from handtick.errors import NotHeld
from handtick.links.virtual import VirtualLink
from handtick.lockstep import Lockstep
from handtick.model import Model
from handtick.opening import open_link
from handtick.repeat import Repeat
from handtick.rules import read_rule
from handtick.stopping import run_until
from handtick.virtual.larch_board import larch_board
from handtick.virtual.rain_tally import LONG_TALLY
from handtick.wobble import Wobbles

TITLE = "Judging runs"
NOTE = "On the virtual board in memory, logged. The floor is the same run, logged and not judged."
_RUN = 1000
_REPEATS = 100
_CHECKED = 100_000
_RULE_TICKS = 10_000


def rows() -> Iterator[Row]:
    """Check, wobble and stop rules."""
    with tempfile.TemporaryDirectory() as name:
        model = long_model(Path(name))
        log = Path(name) / "log.sqlite3"
        yield speed("check against a model", lambda: check(log, model), "the run", lambda: _run(log), _CHECKED, runs=3)
        repeated = _RUN * _REPEATS
        yield speed("wobble", lambda: _wobble(log), "the runs", lambda: _repeat(log), repeated, runs=3)
        yield speed(
            "a stop rule, judged on the board",
            lambda: _until(log),
            "the run",
            lambda: _rule_run(log),
            _RULE_TICKS,
            runs=3,
        )


def _opened(log: Path) -> Bench:
    log.unlink(missing_ok=True)
    return open_link(VirtualLink(larch_board(LONG_TALLY)), log, larch_wiring())


def long_model(folder: Path) -> Path:
    """Writes a model of Larch with the program that has no end."""
    model = folder / "model.py"
    model.write_text((EXAMPLES / "larch_model.py").read_text(encoding="utf-8").replace("RAIN_TALLY", "LONG_TALLY"))
    return model


def check(log: Path, model: Path, ticks: int = _CHECKED) -> None:
    """A run beside its model."""
    with _opened(log) as bench:
        finding = Lockstep(bench, Model(model, larch_wiring()), Repeat(bench, _by_hand)).run(ticks, RATE)
    assert (finding.tick, finding.compared) == (None, ticks), finding


def _run(log: Path) -> None:
    with _opened(log) as bench:
        bench.ask("samples", "all")
        bench.reset()
        bench.ask("burst", _CHECKED, RATE, keep=False)


def _wobble(log: Path) -> None:
    with _opened(log) as bench:
        repeat, wobbles = Repeat(bench, _by_hand), Wobbles(larch_wiring())
        for _ in range(_REPEATS):
            wobbles.take(repeat.run_as_far(_RUN, RATE)[0])
        assert not wobbles.found()


def _repeat(log: Path) -> None:
    with _opened(log) as bench:
        repeat = Repeat(bench, _by_hand)
        for _ in range(_REPEATS):
            repeat.run_as_far(_RUN, RATE)


def _until(log: Path) -> None:
    rule = read_rule("data == 0xEE and taker == 1", larch_wiring())
    with _opened(log) as bench, contextlib.suppress(NotHeld):
        run_until(bench, rule, _RULE_TICKS, RATE)
        raise AssertionError("the rule held; it is meant to be looked for to the end")


def _rule_run(log: Path) -> None:
    with _opened(log) as bench:
        bench.ask("samples", "all")
        bench.ask("burst", _RULE_TICKS, RATE, keep=False)


def _by_hand(question: str) -> None:
    raise AssertionError(question)
