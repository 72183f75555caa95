"""Commands of the bench: the button, the wires, the levels, the clock itself."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from handtick.cli.topics.helping import print_help

commands = typer.Typer()
timers_app = typer.Typer(help="Reckon with timer chips.", rich_markup_mode=None)

Context = typer.Context


@commands.command()
def bounce(
    context: Context,
    presses: Annotated[str, typer.Option("--presses", metavar="N", help="How many presses to record.")] = "20",
    file: Annotated[
        Path | None, typer.Option("--file", metavar="FILE", help="Read a recording (CSV of time_us,closed) instead.")
    ] = None,
    save: Annotated[Path | None, typer.Option("--save", metavar="FILE", help="Keep the recording as CSV.")] = None,
    svg: Annotated[Path | None, typer.Option("--svg", metavar="FILE", help="Draw the presses as an SVG file.")] = None,
    write: Annotated[bool, typer.Option("--write", help="Write the times to the board's settings.")] = False,
    to: Annotated[
        Path | None, typer.Option("--to", metavar="FOLDER", help="The board's drive. Without it, the one there is.")
    ] = None,
) -> None:
    """See how the tick button bounces, and which press and re-arm times suit it."""
    from handtick.cli import bounce as work

    work.bounce(context.obj, presses, file, save, svg, write, to)


@commands.command()
def edges(
    context: Context,
    count: Annotated[str, typer.Option("--count", metavar="N", help="Ticks of each burst.")] = "16",
    rates: Annotated[
        str, typer.Option("--rates", metavar="LIST", help="Rates to try, with commas between.")
    ] = "100,1kHz,10kHz,100kHz",
    bus: Annotated[
        str | None, typer.Option("--bus", metavar="NAME", help="A bus of the machine that counts ticks.")
    ] = None,
    at: Annotated[
        str | None, typer.Option("--at", metavar="NAME", help="Which board's end of the wire is looked at.")
    ] = None,
) -> None:
    """Reset the machine, make bursts of ticks, and say whether every edge arrived once at the far end of the wire."""
    from handtick.cli import edges as work

    work.edges(context.obj, count, rates, bus, at)


@commands.command()
def probes(
    context: Context,
    ticks: Annotated[str, typer.Option("--ticks", metavar="N", help="How many ticks to make.")] = "100",
    through: Annotated[
        str | None,
        typer.Option("--through", metavar="WHAT", help="What is between wires and board: wires, buffers or tug."),
    ] = None,
    expect: Annotated[
        Path | None, typer.Option("--expect", metavar="FILE", help="A good run: what moves in it should move.")
    ] = None,
) -> None:
    """Reset the machine, make ticks, and say of each probe's wire whether it is driven, loose, stuck or joined."""
    from handtick.cli import probes as work

    work.probes(context.obj, ticks, through, expect)


@commands.command()
def steady(
    context: Context,
    rates: Annotated[
        str, typer.Option("--rates", metavar="LIST", help="Rates to try, with commas between.")
    ] = "10,100,1kHz",
    count: Annotated[str, typer.Option("--count", metavar="N", help="Ticks at each.")] = "100",
    duty: Annotated[
        str | None, typer.Option("--duty", metavar="PERCENT", help="The high share. Without it, as the board has it.")
    ] = None,
) -> None:
    """Reset the machine, run at each rate, and say what the clock gives and how steady it is."""
    from handtick.cli import steady as work

    work.steady(context.obj, rates, count, duty)


@commands.command()
def levels(
    context: Context,
    driver: Annotated[str, typer.Option("--driver", metavar="FAMILY", help="The chip that drives.")] = "rp2040",
    family: Annotated[str, typer.Option("--family", metavar="FAMILY", help="The machine's chips.")] = "74HC",
    supply: Annotated[str, typer.Option("--supply", metavar="VOLTS", help="The machine's supply.")] = "5.0",
    driver_supply: Annotated[
        str | None, typer.Option("--driver-supply", metavar="VOLTS", help="The driver's supply, if it is another.")
    ] = None,
    inputs: Annotated[str, typer.Option("--inputs", metavar="N", help="How many inputs it drives.")] = "1",
    sources: Annotated[bool, typer.Option("--sources", help="List the families and the sheets they are from.")] = False,
) -> None:
    """Say whether one chip drives another, with what margin, and what to put between."""
    from handtick.cli import levels as work

    work.levels(context.obj, driver, family, supply, driver_supply, inputs, sources)


ChipName = Annotated[str, typer.Option("--chip", metavar="KIND", help="bipolar or cmos.")]
Resistors = Annotated[str, typer.Option("--r-tolerance", metavar="PERCENT", help="How far resistors may be off.")]
Capacitors = Annotated[str, typer.Option("--c-tolerance", metavar="PERCENT", help="How far capacitors may be off.")]
Capacitor = Annotated[str | None, typer.Option("--c", metavar="FARAD", help="The capacitor, such as 100n.")]


@timers_app.callback(invoke_without_command=True)
def timers_common(context: Context) -> None:
    """Reckon with timer chips: their parts, the times these give, and how far that is off."""
    print_help(context)


@timers_app.command("one-shot")
def timers_one_shot(
    context: Context,
    resistor: Annotated[str | None, typer.Option("--r", metavar="OHM", help="The resistor, such as 1M.")] = None,
    capacitor: Capacitor = None,
    width: Annotated[
        str | None, typer.Option("--width", metavar="TIME", help="Find parts for it, such as 110ms.")
    ] = None,
    chip: ChipName = "bipolar",
    r_tolerance: Resistors = "5",
    c_tolerance: Capacitors = "20",
) -> None:
    """Say how wide a timer chip's pulse is, or which parts make it so wide, beside the software one-shot."""
    from handtick.cli import timers as work

    work.one_shot(context.obj, chip, resistor, capacitor, width, (r_tolerance, c_tolerance))


@timers_app.command("astable")
def timers_astable(
    context: Context,
    supply: Annotated[str | None, typer.Option("--r1", metavar="OHM", help="The resistor to the supply.")] = None,
    other: Annotated[str | None, typer.Option("--r2", metavar="OHM", help="The one to the capacitor.")] = None,
    capacitor: Capacitor = None,
    rate: Annotated[str | None, typer.Option("--rate", metavar="RATE", help="Find parts for it, such as 10Hz.")] = None,
    duty: Annotated[str, typer.Option("--duty", metavar="PERCENT", help="The high share, with --rate.")] = "60",
    chip: ChipName = "bipolar",
    r_tolerance: Resistors = "5",
    c_tolerance: Capacitors = "20",
) -> None:
    """Say how fast a timer chip's clock runs, or which parts make it so, beside the software clock."""
    from handtick.cli import timers as work

    work.astable(context.obj, chip, (supply, other), capacitor, (rate, duty), (r_tolerance, c_tolerance))
