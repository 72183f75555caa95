"""Commands that ask a board how it stands, and that drive its clock."""

from __future__ import annotations

from typing import Annotated

import typer

commands = typer.Typer()

Context = typer.Context
StopRule = Annotated[
    str | None,
    typer.Option("--stop-when", metavar="RULE", help="Rest where this holds, such as: data == 0x2A and tick > 100"),
]
Samples = Annotated[
    str,
    typer.Option(
        "--samples", metavar="all|last|auto", help="Of which ticks to log what the probes held, where there are many."
    ),
]
IgnoreHalt = Annotated[
    str | None,
    typer.Option("--ignore-halt", metavar="N", help="Go past the machine's halt line for the first N ticks."),
]
Trigger = Annotated[
    str | None,
    typer.Option("--trigger", metavar="TICK", help="Raise the trigger output for this tick, for an oscilloscope."),
]


@commands.command()
def ports(context: Context) -> None:
    """List the ports that could have a board, and which do."""
    from handtick.cli import look

    look.ports(context.obj)


@commands.command()
def status(context: Context) -> None:
    """Say who the board is, how its clock stands, and what the machine's lines hold now."""
    from handtick.cli import look

    look.status(context.obj)


@commands.command()
def step(
    context: Context,
    count: Annotated[str, typer.Argument(metavar="[N]", help="How many ticks.")] = "1",
    half: Annotated[bool, typer.Option("--half", help="Only the next edge.")] = False,
    instruction: Annotated[
        bool, typer.Option("--instruction", help="As many ticks as it takes to the next start of an instruction.")
    ] = False,
    microstep: Annotated[bool, typer.Option("--microstep", help="To the next step within an instruction.")] = False,
    stop_when: StopRule = None,
    ignore_halt: IgnoreHalt = None,
    trigger: Trigger = None,
    by_ready: Annotated[
        bool, typer.Option("--by-ready", help="The clock runs on, and the ready line lets the machine go N cycles.")
    ] = False,
    rate: Annotated[
        str | None,
        typer.Option("--rate", metavar="RATE", help="With --by-ready: ticks a second, where the clock is at rest yet."),
    ] = None,
    then_run: Annotated[
        bool, typer.Option("--then-run", help="With --by-ready: after them, leave the machine ready.")
    ] = False,
) -> None:
    """Make ticks of a fixed width, one after the other."""
    if by_ready or rate is not None or then_run:
        from handtick.cli import ready

        others = [half, instruction, microstep, stop_when is not None, ignore_halt is not None, trigger is not None]
        ready.step(context.obj, count, by_ready, any(others), rate, then_run)
        return
    from handtick.cli import clock

    clock.step(context.obj, count, half, instruction, microstep, stop_when, ignore_halt, trigger)


@commands.command()
def run(
    context: Context,
    rate: Annotated[str, typer.Argument(metavar="RATE", help="Ticks a second: 2, 2Hz, 0.5, 1.5kHz, 1MHz.")],
    extent: Annotated[
        str | None, typer.Option("--for", metavar="N|TIME", help="Ticks, such as 40, or a time, such as 10s.")
    ] = None,
    stop_when: StopRule = None,
    expect: Annotated[
        str | None, typer.Option("--expect", metavar="FILE", help="Rest at the first tick that differs from this file.")
    ] = None,
    samples: Samples = "auto",
    ignore_halt: IgnoreHalt = None,
    trigger: Trigger = None,
) -> None:
    """Run at a rate, until halted with Ctrl-C, by the machine, or after so many ticks or so long."""
    from handtick.cli import clock

    clock.run(context.obj, rate, extent, stop_when, expect, samples, ignore_halt, trigger)


@commands.command()
def to(
    context: Context,
    tick: Annotated[str, typer.Argument(metavar="TICK", help="The tick number to reach.")],
    rate: Annotated[
        str | None, typer.Option("--rate", metavar="RATE", help="Ticks a second. Without it, as fast as it goes.")
    ] = None,
    stop_when: StopRule = None,
    samples: Samples = "auto",
    ignore_halt: IgnoreHalt = None,
    trigger: Trigger = None,
) -> None:
    """Run until a tick number is reached, and rest there."""
    from handtick.cli import clock

    clock.to(context.obj, tick, rate, stop_when, samples, ignore_halt, trigger)


@commands.command()
def halt(context: Context) -> None:
    """Come to rest at the next tick boundary."""
    from handtick.cli import clock

    clock.halt(context.obj)


@commands.command()
def reset(context: Context) -> None:
    """Reset the machine; the tick after it is tick 1."""
    from handtick.cli import clock

    clock.reset(context.obj)
