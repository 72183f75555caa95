"""The command line as a whole: what every command takes, and the topics in the order in which the help lists them."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Annotated

import typer
from typer.models import CommandInfo

from handtick import __version__
from handtick.cli.common import Common
from handtick.cli.topics import boards, driving, finding, measuring, seeing, sharing
from handtick.cli.topics.helping import print_help

LAST_LINE = (
    "The options --board, --log, --wiring, --json and --quiet may stand anywhere on the line. "
    "Exit status: 0 done, 2 wrong usage, 3 no board, 4 refused, 5 link lost, 6 stopped early, 7 no log, "
    "8 another start, 9 it differs."
)

app = typer.Typer(
    name="handtick",
    help="Clock a home-built processor tick by tick, log every tick, and find where it went wrong.",
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
for topic in (driving, finding, seeing, boards, measuring, sharing):
    app.registered_commands += topic.commands.registered_commands
app.add_typer(seeing.log_app, name="log")
app.add_typer(measuring.timers_app, name="timers")


def only_named(words: list[str]) -> typer.Typer:
    """The app with no other commands than those whose names are in a command line, as making them all takes a while;
    with all of them where none is, and for help, which lists them."""
    named = [each for each in app.registered_commands if _name(each) in words]
    groups = [each for each in app.registered_groups if each.name in words]
    if "--help" in words or not (named or groups):
        return app
    smaller = copy.copy(app)
    smaller.registered_commands, smaller.registered_groups = named, groups
    return smaller


def _name(command: CommandInfo) -> str:
    """What a command is called on the command line."""
    assert command.callback is not None
    return command.name or str(command.callback.__name__)


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"handtick {__version__}")
        raise typer.Exit


@app.callback(invoke_without_command=True, epilog=LAST_LINE)
def common(
    context: typer.Context,
    board: Annotated[
        str | None,
        typer.Option(
            "--board",
            metavar="PORT",
            help="A port, socket://HOST:PORT, or virtual. Without it, the one board there is.",
        ),
    ] = None,
    log: Annotated[
        Path | None,
        typer.Option("--log", metavar="FILE", help="The tick log, an SQLite file. Without it, handtick.sqlite3."),
    ] = None,
    wiring: Annotated[
        Path | None,
        typer.Option("--wiring", metavar="FILE", help="The wiring file. Without it, wiring.toml where there is one."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print one JSON object a tick or answer.")] = False,
    quiet: Annotated[bool, typer.Option("--quiet", help="Print nothing but errors.")] = False,
    version: Annotated[
        bool, typer.Option("--version", callback=_print_version, is_eager=True, help="Print the version and stop.")
    ] = False,
) -> None:
    """Clock a home-built processor tick by tick, log every tick, and find where it went wrong."""
    context.obj = Common(board, log, wiring, as_json, quiet)
    print_help(context)
