"""Commands about a log: its runs, notes and exports."""

from __future__ import annotations

import contextlib
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import TextIO

from handtick.cli.common import Common
from handtick.cli.output import reconfigure_output
from handtick.cli.printer import Printer
from handtick.cli.table import Columns
from handtick.errors import LogError, UsageError
from handtick.export import write_csv, write_json_lines, write_parquet, write_vcd
from handtick.log import LogReader, LogWriter, Run, Tick
from handtick.log.check import check
from handtick.quantities import span_of, tick_of
from handtick.whole_file import check_place, is_plain, whole_file
from handtick.wiring import Wiring
from handtick_wire.described import sentence
from handtick_wire.messages import MOST_TICKS, read_number

_RUNS = Columns(
    ("run", "began (UTC)", "boot", "reset", "asked", "ticks", "why it stopped"), (4, -23, 10, 5, -12, -17, -1)
)
FORMS = ("csv", "jsonl", "vcd", "parquet")
# Ticks after which the count is shown anew to a person who watches; each one would take as long as writing it.
_SHOWN_EVERY = 1000


def list_runs(common: Common) -> None:
    """Lists runs."""
    printer = Printer(common.json, common.quiet)
    with common.open_log() as log:
        runs = log.runs()
    if not common.json:
        printer.answer(_RUNS.heading() if runs else f"log {common.log_path} has no runs yet")
    for run in runs:
        printer.answer(_run_row(run), **run_object(run))


def note(common: Common, text: str, tick: str | None, run_number: str | None = None) -> None:
    """Writes a note on a tick, or on a run: that is, on its first tick."""
    number = None if tick is None else tick_of(tick)
    if run_number is not None and (tick is not None or read_number(run_number) is None):
        raise UsageError(f"--run {run_number}: give the number of a run as `handtick log list` has it, and no --tick")
    words = text.strip()
    if not words:
        raise UsageError("the note is empty; give its text in quotes")
    with common.open_log() as log:
        board_id, last = log.board_id, log.last_key()
        if last is None:
            raise LogError(f"log {str(common.log_path)!r} has no tick yet that a note could be about")
        boot, reset, newest = last
        if run_number is not None:
            runs = {run.id: run for run in log.runs()}
            run = runs.get(int(run_number))
            if run is None:
                raise UsageError(f"--run {run_number}: the log has no such run; see: handtick log list")
            boot, reset, number = run.boot, run.reset, run.first_tick
            words = f"run {run.id}: {words}"
        number = newest if number is None else number
        if next(log.ticks(boot, reset, number, number), None) is None:
            raise UsageError(f"tick {number} of reset {reset} is not in the log; its newest is tick {newest}")
    with LogWriter.open(common.log_path, board_id, time.time_ns()) as writer:
        writer.add_note(boot, reset, number, words, time.time_ns())
        writer.commit(time.time_ns())
    Printer(common.json, common.quiet).answer(
        f"noted at tick {number} of reset {reset}", kind="note", boot=boot, reset=reset, tick=number, text=words
    )


def check_log(common: Common) -> None:
    """Says what is there, what is missing and what is wrong."""
    printer = Printer(common.json, common.quiet)
    findings = check(common.log_path)
    for finding in findings:
        printer.answer(f"{finding.kind}: {finding.text}", kind="finding", sort=finding.kind, what=finding.text)
    wrong = sum(finding.kind == "wrong" for finding in findings)
    if wrong:
        raise LogError(f"log {str(common.log_path)!r}: {wrong} things in it do not add up")


def export(common: Common, file: str, ticks: str | None, form: str | None, times: bool) -> None:
    """Writes ticks to a file."""
    kind = _form(file, form)
    span = None if ticks is None else span_of(ticks)
    wiring = common.find_wiring()
    with (
        common.open_log() as log,
        log.one_instant(),
        _watched(common, file, _of_one_boot(common, log, span) if kind == "vcd" else chosen(log, span)) as rows,
    ):
        if kind == "parquet":
            with whole_file(file) as part:
                count = write_parquet(rows, wiring, part)
        else:
            with _target(file) as target:
                count = _write(kind, rows, wiring, target, times)
    if file != "-":
        Printer(common.json, common.quiet).answer(f"{count} ticks in {file}", kind="export", file=file, ticks=count)


def _form(file: str, form: str | None) -> str:
    """Which form to write: the one given, else the one that the file's name ends in."""
    if form is not None and form not in FORMS:
        raise UsageError(f"--form {form}: there are {', '.join(FORMS)}")
    if file != "-":
        check_place(file)
    kind = form or Path(file).suffix.removeprefix(".")
    if kind not in FORMS:
        names = ", ".join(f".{each}" for each in FORMS)
        raise UsageError(f"{file}: its name should end in one of {names}; or say which with --form")
    if kind == "parquet" and (file == "-" or not is_plain(file)):
        where = "standard output" if file == "-" else f"{file}, which is no plain file"
        raise UsageError(f"Parquet can't be written to {where}; give the name of a file")
    return kind


def _write(kind: str, rows: Iterator[Tick], wiring: Wiring, target: TextIO, times: bool) -> int:
    if kind == "csv":
        return write_csv(rows, wiring, target, times)
    return write_vcd(rows, wiring, target) if kind == "vcd" else write_json_lines(rows, wiring, target)


@contextlib.contextmanager
def _watched(common: Common, file: str, rows: Iterator[Tick]) -> Iterator[Iterator[Tick]]:
    """The rows, counted for a person who watches."""
    if common.json or common.quiet or file == "-" or not sys.stdout.isatty():
        yield rows
        return
    from rich.progress import Progress, SpinnerColumn, TextColumn

    with Progress(SpinnerColumn(), TextColumn("{task.completed} ticks"), transient=True) as bar:
        task = bar.add_task("", total=None)

        def counted() -> Iterator[Tick]:
            for count, row in enumerate(rows, 1):
                if not count % _SHOWN_EVERY:
                    bar.update(task, completed=count)
                yield row

        yield counted()


def chosen(log: LogReader, span: tuple[int, int] | None) -> Iterator[Tick]:
    """All ticks of a log; or those of a span of tick numbers, in the boot and reset that were heard last."""
    if span is None:
        return log.all_ticks()
    last = log.last_key()
    return iter(()) if last is None else log.ticks(last[0], last[1], *span)


def _of_one_boot(common: Common, log: LogReader, span: tuple[int, int] | None) -> Iterator[Tick]:
    """Those of the ticks chosen that one picture can have: of the boot that was heard last, as others begin at zero."""
    last = log.last_key()
    if span is not None or last is None:
        return chosen(log, span)
    others = len(log.boots_with_ticks()) - 1
    if others:
        left = f"{others} other{'s are' if others > 1 else ' is'} left out, as times begin anew with each"
        Printer(common.json, common.quiet).warn(f"boot {last[0]} alone is written, the latest; {left}")
    return log.ticks_of(last[0])


def run_object(run: Run) -> dict[str, object]:
    """A run as a JSON object."""
    return {
        "kind": "run",
        "run": run.id,
        "boot": run.boot,
        "reset": run.reset,
        "asked": run.asked,
        "first": run.first_tick,
        "last": run.last_tick,
        "why": run.why,
        "started_utc": run.started_utc,
        "ended_utc": run.ended_utc,
    }


def run_words(run: Run) -> tuple[str, str, str]:
    """What was asked, which ticks it made, and why it stopped."""
    # As many as there can be: a run to a stop rule, which has no other end.
    endless = run.asked == f"burst:{MOST_TICKS - run.first_tick + 1}"
    asked = "run" if endless else run.asked.replace(":", " ")
    if run.last_tick is None:
        return asked, f"from tick {run.first_tick}", "still open"
    ticks = f"{run.first_tick} to {run.last_tick}" if run.last_tick >= run.first_tick else "none"
    return asked, ticks, sentence(run.why or "")


def _run_row(run: Run) -> str:
    return _RUNS.row(run.id, run.started_utc, run.boot, run.reset, *run_words(run))


@contextlib.contextmanager
def _target(file: str) -> Iterator[TextIO]:
    """A text file to write, or standard output."""
    if file == "-":
        # The very bytes that a file would have.
        reconfigure_output(encoding="utf-8", newline="")
        yield sys.stdout
        return
    with whole_file(file) as part, part.open("w", encoding="utf-8", newline="") as target:
        yield target
