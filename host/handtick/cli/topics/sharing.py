"""Commands for whoever shows the clock to others."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

commands = typer.Typer()

Context = typer.Context


@commands.command()
def share(
    context: Context,
    network: Annotated[
        bool, typer.Option("--network", help="Let other computers of the network in, and not this one only.")
    ] = False,
    port: Annotated[str, typer.Option("--port", metavar="PORT", help="The TCP port; 0 for any.")] = "8470",
    lesson: Annotated[Path | None, typer.Option("--lesson", metavar="FILE", help="The lesson to go through.")] = None,
    replay: Annotated[
        Path | None, typer.Option("--replay", metavar="LOG", help="Show the ticks of a log instead of a board's.")
    ] = None,
    gone: Annotated[
        str,
        typer.Option("--gone", metavar="SECONDS", help="When the crank comes back from somebody whose link is gone."),
    ] = "10",
    names: Annotated[
        list[str] | None, typer.Option("--name", metavar="HOST", help="One more name of this machine; repeat it.")
    ] = None,
    broker: Annotated[
        str | None,
        typer.Option(
            "--broker", metavar="URL", help="An MQTT broker for more rooms: mqtt://[user@]host[:port][/prefix]."
        ),
    ] = None,
    broker_ca: Annotated[
        str | None,
        typer.Option("--broker-ca", metavar="FILE", help="The certificates to trust of a broker at mqtts://."),
    ] = None,
) -> None:
    """Share the clock with a class: a page for everybody, one at a time at the crank, until Ctrl-C."""
    from handtick.cli import share as work

    work.share(context.obj, network, port, lesson, replay, gone, names or [], broker, broker_ca)


@commands.command()
def lesson(
    context: Context,
    file: Annotated[Path, typer.Argument(metavar="LESSON", help="The lesson.")],
    logs: Annotated[list[Path], typer.Argument(metavar="LOG", help="A log a board.")],
) -> None:
    """Say of each board's log at which tick it first differs from what a lesson expects."""
    from handtick.cli import lesson as work

    work.lesson(context.obj, file, logs)


@commands.command()
def demo(
    context: Context,
    quick: Annotated[bool, typer.Option("--quick", help="Do not wait between ticks.")] = False,
) -> None:
    """Step Larch, the built-in machine, through its program: no hardware needed."""
    from handtick.cli.demo import DEMO_LOG, run_demo

    run_demo(context.obj.log or Path(DEMO_LOG), quick)
