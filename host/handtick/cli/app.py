"""All commands, in the order in which the help lists them. What each does is in a module of its own, imported late."""

from __future__ import annotations

import copy
from pathlib import Path
from typing import Annotated

import typer
from typer.models import CommandInfo

from handtick import __version__
from handtick.cli.common import Common

app = typer.Typer(
    name="handtick",
    help="Clock a home-built processor tick by tick, log every tick, and find where it went wrong.",
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)
log_app = typer.Typer(help="Look into a tick log.", rich_markup_mode=None)
app.add_typer(log_app, name="log")
timers_app = typer.Typer(help="Reckon with timer chips.", rich_markup_mode=None)

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
LAST_LINE = (
    "The options --board, --log, --wiring, --json and --quiet may stand anywhere on the line. "
    "Exit status: 0 done, 2 wrong usage, 3 no board, 4 refused, 5 link lost, 6 stopped early, 7 no log."
)


def only_named(words: list[str]) -> typer.Typer:
    """The app with no other commands than those whose names are in a command line, as making them all takes a while;
    with all of them where none is, and for help, which lists them."""
    named = [each for each in app.registered_commands if _name(each) in words]
    if "--help" in words or not (named or "log" in words):
        return app
    smaller = copy.copy(app)
    smaller.registered_commands = named
    return smaller


def _name(command: CommandInfo) -> str:
    """What a command is called on the command line."""
    assert command.callback is not None
    return command.name or str(command.callback.__name__)


def _print_version(wanted: bool) -> None:
    if wanted:
        print(f"handtick {__version__}")
        raise typer.Exit


def _print_help(context: Context) -> None:
    if context.invoked_subcommand is None:
        print(context.get_help())
        raise typer.Exit(2)


@app.callback(invoke_without_command=True, epilog=LAST_LINE)
def common(
    context: Context,
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
    _print_help(context)


@app.command()
def ports(context: Context) -> None:
    """List the ports that could have a board, and which do."""
    from handtick.cli import look

    look.ports(context.obj)


@app.command()
def status(context: Context) -> None:
    """Say who the board is, how its clock stands, and what the machine's lines hold now."""
    from handtick.cli import look

    look.status(context.obj)


@app.command()
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


@app.command()
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


@app.command()
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


@app.command()
def halt(context: Context) -> None:
    """Come to rest at the next tick boundary."""
    from handtick.cli import clock

    clock.halt(context.obj)


@app.command()
def reset(context: Context) -> None:
    """Reset the machine; the tick after it is tick 1."""
    from handtick.cli import clock

    clock.reset(context.obj)


@app.command()
def rewind(
    context: Context,
    back: Annotated[str | None, typer.Argument(metavar="[N]", help="How many ticks to go back.")] = None,
    to_tick: Annotated[str | None, typer.Option("--to", metavar="TICK", help="The tick to go back to.")] = None,
    rate: Annotated[str | None, typer.Option("--rate", metavar="RATE", help="Ticks a second on the way.")] = None,
) -> None:
    """Reset and advance again to an earlier tick, and see whether the machine goes the same way."""
    from handtick.cli import lockstep

    lockstep.rewind(context.obj, back, to_tick, rate)


@app.command()
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


@app.command()
def compare(
    context: Context,
    expected: Annotated[str, typer.Argument(metavar="A", help="What should be: a run's number, or a file.")],
    seen: Annotated[str, typer.Argument(metavar="B", help="What was: likewise.")],
    late: Annotated[bool, typer.Option("--late", help="Compare late samples instead of early ones.")] = False,
) -> None:
    """Compare two runs, or a run with a CSV or JSON Lines file: the first difference, and what would do that."""
    from handtick.cli import lockstep

    lockstep.compare(context.obj, expected, seen, late)


@app.command()
def wobble(
    context: Context,
    to_tick: Annotated[str, typer.Option("--to", metavar="TICK", help="How far each run goes.")],
    times: Annotated[str, typer.Option("--times", metavar="N", help="How many runs.")] = "20",
    rate: Annotated[str | None, typer.Option("--rate", metavar="RATE", help="Ticks a second.")] = None,
) -> None:
    """Make the same run again and again, and say which line ever differed, at which tick, and how often."""
    from handtick.cli import search

    search.wobble(context.obj, to_tick, times, rate)


@app.command()
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


@app.command()
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
    _print_help(context)


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


@app.command()
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


@app.command()
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


@app.command()
def panel(context: Context) -> None:
    """Open a window for the evening: the clock, the buses, the last ticks, and keys for all of it."""
    from handtick.cli import panel as window

    window.panel(context.obj)


@app.command()
def wire(context: Context) -> None:
    """Be led through the first wiring: finds each wire's probe, writes the wiring file, proves reset and halt."""
    from handtick.cli import wire as wiring

    wiring.wire(context.obj)


@app.command()
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


@app.command()
def pins(
    context: Context,
    profile: Annotated[
        str | None, typer.Argument(metavar="[PROFILE]", help="full, counter, tug, chain or minimal.")
    ] = None,
) -> None:
    """Say which pin of the board does what, and which probe carries which name."""
    from handtick.cli import look

    look.pins(context.obj, profile)


@app.command()
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


@app.command()
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


@app.command()
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


@app.command()
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


@app.command()
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


@app.command()
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


app.add_typer(timers_app, name="timers")
ChipName = Annotated[str, typer.Option("--chip", metavar="KIND", help="bipolar or cmos.")]
Resistors = Annotated[str, typer.Option("--r-tolerance", metavar="PERCENT", help="How far resistors may be off.")]
Capacitors = Annotated[str, typer.Option("--c-tolerance", metavar="PERCENT", help="How far capacitors may be off.")]
Capacitor = Annotated[str | None, typer.Option("--c", metavar="FARAD", help="The capacitor, such as 100n.")]


@timers_app.callback(invoke_without_command=True)
def timers_common(context: Context) -> None:
    """Reckon with timer chips: their parts, the times these give, and how far that is off."""
    _print_help(context)


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


@app.command(name="serve-pins")
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


@app.command()
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


@app.command()
def lesson(
    context: Context,
    file: Annotated[Path, typer.Argument(metavar="LESSON", help="The lesson.")],
    logs: Annotated[list[Path], typer.Argument(metavar="LOG", help="A log a board.")],
) -> None:
    """Say of each board's log at which tick it first differs from what a lesson expects."""
    from handtick.cli import lesson as work

    work.lesson(context.obj, file, logs)


@app.command()
def demo(
    context: Context,
    quick: Annotated[bool, typer.Option("--quick", help="Do not wait between ticks.")] = False,
) -> None:
    """Step Larch, the built-in machine, through its program: no hardware needed."""
    from handtick.cli.demo import DEMO_LOG, run_demo

    run_demo(context.obj.log or Path(DEMO_LOG), quick)
