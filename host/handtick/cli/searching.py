"""What all commands that repeat runs share: the bench with its ticks kept quiet, and how a finding is told."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Iterator, Sequence
from decimal import Decimal

from handtick import events, log
from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.table import TickTable
from handtick.compare import Finding, Trace
from handtick.compare.trace import line_names
from handtick.errors import Differs, HandtickError, StoppedEarly, UsageError
from handtick.lockstep import SHOWN
from handtick.wiring import Wiring


@contextlib.contextmanager
def searching(common: Common) -> Iterator[tuple[Bench, Printer]]:
    """The bench, with ticks logged and not printed, and Ctrl-C resting the clock."""
    printer = Printer(common.json, common.quiet, rows=False, ticks=False)
    try:
        with common.open_bench(printer) as bench:
            try:
                yield bench, printer
            except KeyboardInterrupt:
                bench.halt()
                raise StoppedEarly(f"interrupted: the clock rests at tick {bench.tick}") from None
    finally:
        printer.close()


def by_hand(question: str) -> None:
    print(question, end="", file=sys.stderr, flush=True)
    if not sys.stdin.readline():
        raise StoppedEarly("the machine needs a hand at each start, and there is nobody to ask")


def top_rate(bench: Bench) -> str:
    assert bench.greeting is not None
    return str(bench.greeting.fields["top_rate"])


def made_of(bench: Bench, printer: Printer, rates: Sequence[str]) -> list[str]:
    """Those of some rates, as the wire writes them, that the board makes; the others are told.

    Raises:
        UsageError: it makes none of them.
    """
    most = top_rate(bench)
    fit = [rate for rate in rates if Decimal(rate) <= Decimal(most)]
    if not fit:
        raise UsageError(f"--rates {','.join(rates)}: this board makes {most} Hz at most")
    for rate in rates:
        if rate not in fit:
            printer.warn(f"{rate} Hz was left out: this board makes {most} Hz at most")
    return fit


def check_reach(file: str, trace: Trace, first: int, last: int) -> None:
    """Before ticks are made: an expectation that says nothing of any of them would find every machine right.

    Raises:
        UsageError: it says nothing of the ticks ``first`` to ``last``.
    """
    if not any(first <= row.tick <= last for row in trace.rows):
        said = _span(trace.rows[0].tick, trace.rows[-1].tick)
        asked = _span(first, last) if first <= last else f"what comes after tick {last}"
        raise UsageError(f"{file}: it has {said}, and nothing of {asked}; nothing could be compared")


def check_compared(file: str, finding: Finding) -> None:
    """After ticks were made: that samples of some came.

    Raises:
        HandtickError: nothing was compared.
    """
    if not finding.compared:
        raise HandtickError(f"no tick that {file} has came with its samples; nothing was compared")


def _span(first: int, last: int) -> str:
    return f"tick {first}" if first == last else f"ticks {first} to {last}"


def raise_on(printer: Printer, wiring: Wiring, finding: Finding, ticks: Sequence[events.Tick | log.Tick]) -> None:
    """Says what a comparison found, with the ticks before it, and ends with the status for it."""
    if finding.tick is None:
        return
    tell_finding(printer, wiring, finding)
    table = TickTable(wiring)
    rows = [tick for tick in ticks if finding.tick - SHOWN < tick.tick <= finding.tick]
    for text in (table.heading(), *(table.row(tick) for tick in rows)):
        printer.aside(text)
    raise Differs(f"first difference at tick {finding.tick}: {', '.join(finding.lines)}")


def tell_finding(printer: Printer, wiring: Wiring, finding: Finding) -> None:
    """The finding of a comparison, as text or an object."""
    names = line_names(wiring)
    wrong = "\n".join(f"  {each}" for each in finding.explanations)
    printer.answer(
        f"first difference at tick {finding.tick}: {', '.join(finding.lines)}; {finding.differing} of "
        f"{finding.compared} ticks differ\n{_levels(names, finding)}\nwhat would do that:\n{wrong}",
        kind="difference",
        tick=finding.tick,
        lines=list(finding.lines),
        differing=finding.differing,
        compared=finding.compared,
        explanations=list(finding.explanations),
    )


def _levels(names: Sequence[str], finding: Finding) -> str:
    rows = []
    for bit, name in enumerate(names):
        if name in finding.lines:
            rows.append(f"  {name}: expected {finding.expected >> bit & 1}, seen {finding.seen >> bit & 1}")
    return "\n".join(rows)
