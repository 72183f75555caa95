"""Commands that write, show and draw what a log has, and the panel."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from handtick.cli.topics.helping import print_help

commands = typer.Typer()
log_app = typer.Typer(help="Look into a tick log.", rich_markup_mode=None)

Context = typer.Context


@commands.command()
def note(
    context: Context,
    text: Annotated[str, typer.Argument(metavar="TEXT", help="What to write down.")],
    tick: Annotated[
        str | None, typer.Option("--tick", metavar="TICK", help="The tick it is about. Without it, the last one.")
    ] = None,
    run_number: Annotated[
        str | None, typer.Option("--run", metavar="N", help="The run it is about, such as what you changed before it.")
    ] = None,
) -> None:
    """Write a note on a tick or a run into the log."""
    from handtick.cli import logs

    logs.note(context.obj, text, tick, run_number)


@log_app.callback(invoke_without_command=True)
def log_common(context: Context) -> None:
    """Look into a tick log."""
    print_help(context)


@log_app.command("list")
def log_list(context: Context) -> None:
    """List the runs of a log, with why each stopped."""
    from handtick.cli import logs

    logs.list_runs(context.obj)


@log_app.command("show")
def log_show(
    context: Context,
    last: Annotated[str | None, typer.Option("--last", metavar="N", help="Only so many ticks at the end.")] = None,
    ticks: Annotated[str | None, typer.Option("--ticks", metavar="A..B", help="Only these ticks.")] = None,
    where: Annotated[
        str | None, typer.Option("--where", metavar="RULE", help="Only ticks where this holds, such as: data == 0x2A")
    ] = None,
) -> None:
    """Print what a log holds: runs with why they stopped, every tick, gaps, damage and notes."""
    from handtick.cli import show

    show.show_log(context.obj, last, ticks, where)


@log_app.command("check")
def log_check(context: Context) -> None:
    """Say what a log holds, what is missing and what does not add up."""
    from handtick.cli import logs

    logs.check_log(context.obj)


@log_app.command("export")
def log_export(
    context: Context,
    file: Annotated[str, typer.Argument(metavar="FILE", help="Ends in .csv, .jsonl, .vcd or .parquet; or -.")],
    ticks: Annotated[str | None, typer.Option("--ticks", metavar="A..B", help="Only these ticks.")] = None,
    form: Annotated[
        str | None,
        typer.Option("--form", metavar="FORM", help="csv, jsonl, vcd or parquet."),
    ] = None,
    times: Annotated[bool, typer.Option("--times/--no-times", help="Whether CSV has the ticks' times.")] = True,
) -> None:
    """Write the ticks of a log to a CSV, JSON Lines, VCD or Parquet file."""
    from handtick.cli import logs

    logs.export(context.obj, file, ticks, form, times)


@commands.command()
def diagram(
    context: Context,
    ticks: Annotated[str, typer.Option("--ticks", metavar="A..B", help="Which ticks.")],
    lines: Annotated[
        str | None, typer.Option("--lines", metavar="LIST", help="Which buses and lines, with commas between.")
    ] = None,
    svg: Annotated[Path | None, typer.Option("--svg", metavar="FILE", help="Write an SVG file.")] = None,
    png: Annotated[Path | None, typer.Option("--png", metavar="FILE", help="Write a PNG file.")] = None,
    theme: Annotated[str, typer.Option("--theme", metavar="NAME", help="auto, light or dark.")] = "auto",
) -> None:
    """Draw ticks of the log as a timing diagram, in the terminal or as a picture."""
    from handtick.cli import diagram as drawing

    drawing.diagram(context.obj, ticks, lines, svg, png, theme)


@commands.command()
def report(
    context: Context,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The HTML file to write.")],
    ticks: Annotated[str, typer.Option("--ticks", metavar="A..B", help="Which ticks it is about.")],
    title: Annotated[str | None, typer.Option("--title", metavar="TEXT", help="Its heading.")] = None,
    finding: Annotated[str | None, typer.Option("--finding", metavar="TEXT", help="What was found.")] = None,
) -> None:
    """Write one page about a fault: ticks as a diagram and a table, what was run, notes, and the wiring."""
    from handtick.cli import diagram as drawing

    drawing.report(context.obj, file, ticks, title, finding)


@commands.command()
def panel(context: Context) -> None:
    """Open a window for the evening: the clock, the buses, the last ticks, and keys for all of it."""
    from handtick.cli import panel as window

    window.panel(context.obj)
