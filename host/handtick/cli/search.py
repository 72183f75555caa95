"""Commands that make the same run many times: wobble, and sweep over rates."""

from __future__ import annotations

import contextlib
import math
import sys
from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.cli.searching import by_hand, check_compared, check_reach, searching, top_rate
from handtick.cli.table import Columns
from handtick.compare import diagnose, trace_of
from handtick.compare.files import read_trace
from handtick.errors import Differs, UsageError
from handtick.quantities import rate_of, tick_of
from handtick.repeat import Repeat
from handtick.sweep import Attempt, Limit, sweep
from handtick.wobble import Wobble, Wobbles
from handtick_wire.messages import read_number, read_rate, write_rate

_WOBBLES = Columns(("tick", "line", "sample", "times", "with it"), (8, -12, -6, 7, -1))
_ATTEMPTS = Columns(("rate (Hz)", "outcome", "first wrong tick", "lines"), (12, -7, 16, -1))
_MOST_ROWS = 40


def wobble(common: Common, to: str, times: str, rate: str | None) -> None:
    """Makes the same run again and again, and says what ever differed."""
    target = tick_of(to, 1)
    repeats = read_number(times)
    if repeats is None or not 2 <= repeats <= 100_000:
        raise UsageError(f"--times {times}: a run can be made 2 to 100000 times")
    wire_rate = None if rate is None else rate_of(rate)
    with searching(common) as (bench, printer):
        repeat, wobbles = Repeat(bench, by_hand), Wobbles(bench.wiring)
        ends: Counter[int] = Counter()
        stopped = None
        with _counting(common, repeats) as count:
            for _ in range(repeats):
                ticks, stop = repeat.run_as_far(target, wire_rate or top_rate(bench))
                wobbles.take(ticks)
                ends[bench.tick] += 1
                stopped = stop or stopped
                count()
        found, first = wobbles.found(), wobbles.first_of()
        if common.json:
            for each in found:
                printer.answer("", **_wobble_object(each, each in first))
        if not found:
            printer.answer(
                f"{repeats} times to tick {min(ends)}: every line the same each time",
                kind="wobbles",
                times=repeats,
                tick=min(ends),
                lines=0,
            )
            if len(ends) > 1:
                raise Differs(f"the machine wobbles: {ends_words(ends, target)}")
            if stopped is not None:
                raise stopped
            return
        if not common.json:
            if stopped is not None:
                printer.answer(ends_words(ends, target))
            printer.answer(f"{repeats} times to tick {max(ends)}. Where a repeat first went another way:")
            printer.answer(_WOBBLES.heading())
            for each in first[:_MOST_ROWS]:
                printer.answer(_wobble_row(each))
            printer.answer(_picture(found, max(ends)))
            if len(found) > len(first):
                printer.answer(f"{len(found) - len(first)} more lines and ticks differed after that")
        raise Differs(f"{first[0].line} wobbles at tick {first[0].tick}: {first[0].often} of {repeats} times")


def ends_words(ends: Counter[int], target: int) -> str:
    """How far the repeats came, those that came least far first.

    Args:
        ends: how often each tick was the last.
        target: the tick they were to come to.
    """
    return "; ".join(
        f"{often} time{'s' if often > 1 else ''} it {'came to' if tick == target else 'halted at'} tick {tick}"
        for tick, often in sorted(ends.items())
    )


def sweep_rates(
    common: Common, to: str, slow: str, fast: str, times: str, expect: str | None = None, duty: str | None = None
) -> None:
    """Finds how fast the machine goes, at one duty or at several."""
    target = tick_of(to, 1)
    repeats = read_number(times)
    if repeats is None or not 1 <= repeats <= 1000:
        raise UsageError(f"--times {times}: a rate can be tried 1 to 1000 times")
    low, high = (_millihertz(each) for each in (slow, fast))
    if low >= high:
        raise UsageError(f"--from {slow} is not below --up-to {fast}")
    duties = _duties(duty)
    wiring = common.find_wiring()
    known = None if expect is None else read_trace(Path(expect), wiring)
    if known is not None:
        check_reach(str(expect), known, 1, target)
    with searching(common) as (bench, printer):
        repeat = Repeat(bench, by_hand)
        reference = known or trace_of(repeat.run_to(target, write_rate(low)), wiring)

        def run(rate_mhz: int) -> Attempt:
            ticks, stopped = repeat.run_as_far(target, write_rate(rate_mhz), same_start=False)
            finding = diagnose(reference, trace_of(ticks, wiring))
            # A machine that halts before it should has gone wrong, at the latest, with the tick that is missing.
            missing = bench.tick + 1 if stopped else None
            if finding.tick is None:
                if stopped is not None and rate_mhz == low and bench.tick >= reference.rows[-1].tick:
                    # All that is expected was there, and nobody says that more should come.
                    raise stopped
                if stopped is None:
                    check_compared("the slow run" if expect is None else expect, finding)
            return _told(printer, Attempt(rate_mhz, missing if finding.tick is None else finding.tick, finding.lines))

        if not common.json:
            printer.answer(_ATTEMPTS.heading())
        limits: dict[int, Limit] = {}
        for percent in duties or [0]:
            if percent:
                bench.ask("duty", percent)
            limits[percent] = sweep(run, low, high, repeats)
            _tell_limit(printer, limits[percent], percent, str(bench.status().fields["supply_mv"]))
        if not common.json:
            printer.answer(_sweep_picture(limits, low, high))
        if not all(limit.speed for limit in limits.values()):
            raise Differs("the machine differs at the slowest rate too: this is no fault of speed")


def _duties(text: str | None) -> list[int]:
    if text is None:
        return []
    found = [read_number(each) for each in text.split(",")]
    if not all(each is not None and 1 <= each <= 99 for each in found):
        raise UsageError(f"--duty {text}: give percents from 1 to 99 with commas between, such as 25,50,75")
    return [each for each in found if each is not None]


def _tell_limit(printer: Printer, limit: Limit, percent: int, supply: str) -> None:
    bad = limit.first_bad
    at = f" at {int(supply) / 1000:.2f} V" if supply.isdecimal() else ""
    high = f"{percent} % high: " if percent else ""
    printer.answer(
        high + _limit_words(limit.last_good, bad, limit.speed) + at,
        kind="limit",
        duty=percent or None,
        last_good_hz=write_rate(limit.last_good),
        first_bad_hz=None if bad is None else write_rate(bad.rate_mhz),
        first_wrong_tick=None if bad is None else bad.tick,
        lines=[] if bad is None else list(bad.lines),
        speed=limit.speed,
        supply_mv=supply,
    )


def _sweep_picture(limits: dict[int, Limit], low: int, high: int) -> str:
    """Which rates were good and which bad: a row a duty, the rates on a ratio scale."""
    width = 60
    rows = [f"{write_rate(low)} Hz {'-' * (width - 16)} {write_rate(high)} Hz; o good, x bad, . not tried"]
    for percent, limit in limits.items():
        marks = ["."] * (width + 1)
        for attempt in limit.attempts:
            place = round(width * math.log(attempt.rate_mhz / low) / math.log(high / low))
            marks[place] = "x" if not attempt.good or marks[place] == "x" else "o"
        rows.append("".join(marks) + (f"  {percent} % high" if percent else ""))
    return "\n".join(rows)


def _wobble_object(wobble: Wobble, first: bool) -> dict[str, object]:
    return {
        "kind": "wobble",
        "tick": wobble.tick,
        "line": wobble.line,
        "when": wobble.when,
        "times": wobble.often,
        "with": list(wobble.also),
        "first": first,
    }


def _wobble_row(wobble: Wobble) -> str:
    with_it = ", ".join(wobble.also[:6]) + (" ..." if len(wobble.also) > 6 else "")
    return _WOBBLES.row(wobble.tick, wobble.line, wobble.when, wobble.often, with_it or "-")


def _picture(found: Sequence[Wobble], target: int) -> str:
    """How often lines differed along the run: a row a line, a column a stretch of ticks."""
    width = min(64, target)
    lines = list(dict.fromkeys(each.line for each in found))
    rows = [f"ticks 1 to {target}, {-(-target // width)} a column; . never, 1 to 9 how many tenths of the most"]
    counts = {line: [0] * width for line in lines}
    for each in found:
        counts[each.line][(each.tick - 1) * width // target] += each.often
    most = max(max(row) for row in counts.values())
    for line in lines[:_MOST_ROWS]:
        marks = "".join("." if not count else str(max(1, count * 9 // most)) for count in counts[line])
        rows.append(f"{line:>12}  {marks}")
    return "\n".join(rows)


def _told(printer: Printer, attempt: Attempt) -> Attempt:
    printer.answer(
        _ATTEMPTS.row(
            write_rate(attempt.rate_mhz),
            "good" if attempt.good else "bad",
            "-" if attempt.tick is None else attempt.tick,
            ", ".join(attempt.lines[:6]),
        ),
        kind="attempt",
        rate_hz=write_rate(attempt.rate_mhz),
        good=attempt.good,
        first_wrong_tick=attempt.tick,
        lines=list(attempt.lines),
    )
    return attempt


def _limit_words(good: int, bad: Attempt | None, speed: bool) -> str:
    if not speed:
        return "wrong at the slowest rate too: not a fault of speed; look for hold, ringing, decoupling or contention"
    if bad is None:
        return f"good at every rate tried, up to {write_rate(good)} Hz"
    where = f"first wrong at tick {bad.tick}, {', '.join(bad.lines[:6])}" if bad.lines else "the machine stopped early"
    return f"last good {write_rate(good)} Hz; first bad {write_rate(bad.rate_mhz)} Hz: {where}"


def _millihertz(text: str) -> int:
    value = read_rate(rate_of(text))
    assert value is not None
    return value


@contextlib.contextmanager
def _counting(common: Common, repeats: int) -> Iterator[Callable[[], object]]:
    """Counts repeats for a person who watches."""
    if common.json or common.quiet or not sys.stdout.isatty():
        yield lambda: None
        return
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeRemainingColumn

    with Progress(BarColumn(), MofNCompleteColumn(), "repeats", TimeRemainingColumn(), transient=True) as bar:
        task = bar.add_task("", total=repeats)
        yield lambda: bar.advance(task)
