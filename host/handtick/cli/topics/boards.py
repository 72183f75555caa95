"""Commands that wire, install and serve boards."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

commands = typer.Typer()

Context = typer.Context


@commands.command()
def wire(context: Context) -> None:
    """Be led through the first wiring: finds each wire's probe, writes the wiring file, proves reset and halt."""
    from handtick.cli import wire as wiring

    wiring.wire(context.obj)


@commands.command()
def install(
    context: Context,
    to: Annotated[
        Path | None,
        typer.Option("--to", metavar="FOLDER", help="A drive or folder. Without it, the one drive there is."),
    ] = None,
    check: Annotated[bool, typer.Option("--check", help="Only say what is not as it should be.")] = False,
    compiler: Annotated[
        Path | None,
        typer.Option("--compiler", metavar="FILE", help="CircuitPython's mpy-cross, to install compiled modules."),
    ] = None,
) -> None:
    """Put the firmware on a board's drive; cut off half-way, it can be run again."""
    from handtick.cli import installing

    installing.install_firmware(context.obj, to, check, compiler)


@commands.command()
def pins(
    context: Context,
    profile: Annotated[
        str | None, typer.Argument(metavar="[PROFILE]", help="full, counter, tug, chain or minimal.")
    ] = None,
) -> None:
    """Say which pin of the board does what, and which probe carries which name."""
    from handtick.cli import look

    look.pins(context.obj, profile)


@commands.command()
def virtual(
    context: Context,
    tcp: Annotated[str | None, typer.Option("--tcp", metavar="PORT", help="Serve a TCP port too; 0: any.")] = None,
    program: Annotated[
        str, typer.Option("--program", metavar="NAME", help="Larch's program: rain-tally or long-tally.")
    ] = "rain-tally",
    fault: Annotated[
        str | None, typer.Option("--fault", metavar="FAULT", help="What is wrong with Larch, such as stuck:3=1.")
    ] = None,
    seed: Annotated[str, typer.Option("--seed", metavar="N", help="Chooses what faults by chance hit.")] = "1",
    chain: Annotated[
        str | None,
        typer.Option("--chain", metavar="CHIPS", help="Shift registers on Larch's registers: probes 16 and up."),
    ] = None,
) -> None:
    """Serve the built-in virtual board, with Larch wired to it, as a port of this machine, until Ctrl-C."""
    from handtick.cli import serve

    serve.serve(context.obj, tcp, program, fault, seed, chain)


@commands.command(name="serve-pins")
def serve_pins(
    context: Context,
    settings: Annotated[
        Path, typer.Option("--settings", metavar="FILE", help="The settings, as a board has them in settings.toml.")
    ] = Path("settings.toml"),
    tcp: Annotated[
        str | None, typer.Option("--tcp", metavar="PORT", help="Serve a TCP port of this machine too; 0 for any.")
    ] = None,
) -> None:
    """Make this computer's own pins a board, where Blinka knows them: a Raspberry Pi and its like."""
    from handtick.cli import serve

    serve.serve_pins(context.obj, settings, tcp)
