"""Commands that find a fault: runs made again, compared and judged."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

commands = typer.Typer()

Context = typer.Context


@commands.command()
def rewind(
    context: Context,
    back: Annotated[str | None, typer.Argument(metavar="[N]", help="How many ticks to go back.")] = None,
    to_tick: Annotated[str | None, typer.Option("--to", metavar="TICK", help="The tick to go back to.")] = None,
    rate: Annotated[str | None, typer.Option("--rate", metavar="RATE", help="Ticks a second on the way.")] = None,
) -> None:
    """Reset and advance again to an earlier tick, and see whether the machine goes the same way."""
    from handtick.cli import lockstep

    lockstep.rewind(context.obj, back, to_tick, rate)


@commands.command()
def check(
    context: Context,
    model: Annotated[Path, typer.Argument(metavar="MODEL", help="A Python file with your model of the machine.")],
    ticks: Annotated[str | None, typer.Option("--ticks", metavar="N", help="How many ticks. Without it, 1000.")] = None,
    rate: Annotated[
        str | None, typer.Option("--rate", metavar="RATE", help="Run in blocks at a rate, not a tick at a time.")
    ] = None,
) -> None:
    """Run the machine and a model in lockstep, and rest at the first tick where they differ."""
    from handtick.cli import lockstep

    lockstep.check(context.obj, model, ticks, rate)


@commands.command()
def compare(
    context: Context,
    expected: Annotated[str, typer.Argument(metavar="A", help="What should be: a run's number, or a file.")],
    seen: Annotated[str, typer.Argument(metavar="B", help="What was: likewise.")],
    late: Annotated[bool, typer.Option("--late", help="Compare late samples instead of early ones.")] = False,
) -> None:
    """Compare two runs, or a run with a CSV or JSON Lines file: the first difference, and what would do that."""
    from handtick.cli import lockstep

    lockstep.compare(context.obj, expected, seen, late)


@commands.command()
def wobble(
    context: Context,
    to_tick: Annotated[str, typer.Option("--to", metavar="TICK", help="How far each run goes.")],
    times: Annotated[str, typer.Option("--times", metavar="N", help="How many runs.")] = "20",
    rate: Annotated[str | None, typer.Option("--rate", metavar="RATE", help="Ticks a second.")] = None,
) -> None:
    """Make the same run again and again, and say which line ever differed, at which tick, and how often."""
    from handtick.cli import search

    search.wobble(context.obj, to_tick, times, rate)


@commands.command()
def sweep(
    context: Context,
    to_tick: Annotated[str, typer.Option("--to", metavar="TICK", help="How far each run goes.")],
    expect: Annotated[
        str | None, typer.Option("--expect", metavar="FILE", help="What each run should be, instead of the slow run.")
    ] = None,
    *,
    duty: Annotated[
        str | None, typer.Option("--duty", metavar="LIST", help="Percents the clock is high, such as 25,50,75.")
    ] = None,
    slow: Annotated[str, typer.Option("--from", metavar="RATE", help="A rate that is slow enough.")],
    fast: Annotated[str, typer.Option("--up-to", metavar="RATE", help="The fastest rate to try.")],
    times: Annotated[str, typer.Option("--times", metavar="N", help="How often the limit is tried.")] = "5",
) -> None:
    """Find how fast the machine goes: the same run at rising rates, each compared with a slow one."""
    from handtick.cli import search

    search.sweep_rates(context.obj, to_tick, slow, fast, times, expect, duty)
