"""All commands, in the order in which the help lists them."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from handtick import __version__

app = typer.Typer(
    name="handtick",
    help="Clock a home-built processor tick by tick, log every tick, and find where it went wrong.",
    no_args_is_help=True,
    pretty_exceptions_enable=False,
)
log_app = typer.Typer(help="Look into a tick log.", no_args_is_help=True)
app.add_typer(log_app, name="log")

LogFile = Annotated[Path, typer.Option("--log", metavar="FILE", help="The tick log, an SQLite file.")]


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"handtick {__version__}")
        raise typer.Exit


@app.callback()
def common(
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """What goes before every command."""


@app.command()
def demo(
    log: LogFile = Path("demo.sqlite3"),
    quick: Annotated[bool, typer.Option("--quick", help="Do not wait between ticks.")] = False,
) -> None:
    """Step Larch, the built-in machine, through its program: no hardware needed."""
    from handtick.cli.demo import run_demo

    run_demo(log, quick)


@log_app.command("show")
def log_show(
    log: LogFile = Path("demo.sqlite3"),
    last: Annotated[int | None, typer.Option("--last", min=1, help="Only this many ticks at the end.")] = None,
) -> None:
    """Print what a log holds: runs with why they stopped, every tick, gaps and damage."""
    from handtick.cli.show import show_log

    show_log(log, last)
