"""Commands of the bench: the button, the wires, the levels, the clock itself."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.parser import Parser
from handtick.cli.topics.topic import Topic

TOPIC = Topic("Measuring button, wires, levels and clock")


def _bounce_arguments(parser: Parser) -> None:
    parser.add_argument("--presses", metavar="N", default="20", help="How many presses to record.")
    parser.add_argument("--file", metavar="FILE", type=Path, help="Read a recording (CSV of time_us,closed) instead.")
    parser.add_argument("--save", metavar="FILE", type=Path, help="Keep the recording as CSV.")
    parser.add_argument("--svg", metavar="FILE", type=Path, help="Draw the presses as an SVG file.")
    parser.add_argument("--write", action="store_true", help="Write the times to the board's settings.")
    parser.add_argument("--to", metavar="FOLDER", type=Path, help="The board's drive. Without it, the one there is.")


@TOPIC.command("bounce", _bounce_arguments)
def bounce(common: Common, given: Namespace) -> None:
    """See how the tick button bounces, and which press and re-arm times suit it."""
    from handtick.cli import bounce as work

    work.bounce(common, given.presses, given.file, given.save, given.svg, given.write, given.to)


def _edges_arguments(parser: Parser) -> None:
    parser.add_argument("--count", metavar="N", default="16", help="Ticks of each burst.")
    _add_rates(parser, "100,1kHz,10kHz,100kHz")
    parser.add_argument("--bus", metavar="NAME", help="A bus of the machine that counts ticks.")
    parser.add_argument("--at", metavar="NAME", help="Which board's end of the wire is looked at.")


@TOPIC.command("edges", _edges_arguments)
def edges(common: Common, given: Namespace) -> None:
    """Reset the machine, make bursts of ticks, and say whether every edge arrived once at the far end of the wire."""
    from handtick.cli import edges as work

    work.edges(common, given.count, given.rates, given.bus, given.at)


def _probes_arguments(parser: Parser) -> None:
    parser.add_argument("--ticks", metavar="N", default="100", help="How many ticks to make.")
    parser.add_argument("--through", metavar="WHAT", help="What is between wires and board: wires, buffers or tug.")
    parser.add_argument("--expect", metavar="FILE", type=Path, help="A good run: what moves in it should move.")


@TOPIC.command("probes", _probes_arguments)
def probes(common: Common, given: Namespace) -> None:
    """Reset the machine, make ticks, and say of each probe's wire whether it is driven, loose, stuck or joined."""
    from handtick.cli import probes as work

    work.probes(common, given.ticks, given.through, given.expect)


def _steady_arguments(parser: Parser) -> None:
    _add_rates(parser, "10,100,1kHz")
    parser.add_argument("--count", metavar="N", default="100", help="Ticks at each.")
    parser.add_argument("--duty", metavar="PERCENT", help="The high share. Without it, as the board has it.")


@TOPIC.command("steady", _steady_arguments)
def steady(common: Common, given: Namespace) -> None:
    """Reset the machine, run at each rate, and say what the clock gives and how steady it is."""
    from handtick.cli import steady as work

    work.steady(common, given.rates, given.count, given.duty)


def _levels_arguments(parser: Parser) -> None:
    parser.add_argument("--driver", metavar="FAMILY", default="rp2040", help="The chip that drives.")
    parser.add_argument("--family", metavar="FAMILY", default="74HC", help="The machine's chips.")
    parser.add_argument("--supply", metavar="VOLTS", default="5.0", help="The machine's supply.")
    parser.add_argument("--driver-supply", metavar="VOLTS", help="The driver's supply, if it is another.")
    parser.add_argument("--inputs", metavar="N", default="1", help="How many inputs it drives.")
    parser.add_argument("--sources", action="store_true", help="List the families and the sheets they are from.")


@TOPIC.command("levels", _levels_arguments)
def levels(common: Common, given: Namespace) -> None:
    """Say whether one chip drives another, with what margin, and what to put between."""
    from handtick.cli import levels as work

    work.levels(common, given.driver, given.family, given.supply, given.driver_supply, given.inputs, given.sources)


TIMERS = TOPIC.under("timers", "Reckon with timer chips.")


def _one_shot_arguments(parser: Parser) -> None:
    parser.add_argument("--r", metavar="OHM", help="The resistor, such as 1M.")
    _add_capacitor(parser)
    parser.add_argument("--width", metavar="TIME", help="Find parts for it, such as 110ms.")
    _add_chip_and_tolerances(parser)


@TIMERS.command("one-shot", _one_shot_arguments)
def one_shot(common: Common, given: Namespace) -> None:
    """Say how wide a timer chip's pulse is, or which parts make it so wide, beside the software one-shot."""
    from handtick.cli import timers as work

    work.one_shot(common, given.chip, given.r, given.c, given.width, (given.r_tolerance, given.c_tolerance))


def _astable_arguments(parser: Parser) -> None:
    parser.add_argument("--r1", metavar="OHM", help="The resistor to the supply.")
    parser.add_argument("--r2", metavar="OHM", help="The one to the capacitor.")
    _add_capacitor(parser)
    parser.add_argument("--rate", metavar="RATE", help="Find parts for it, such as 10Hz.")
    parser.add_argument("--duty", metavar="PERCENT", default="60", help="The high share, with --rate.")
    _add_chip_and_tolerances(parser)


@TIMERS.command("astable", _astable_arguments)
def astable(common: Common, given: Namespace) -> None:
    """Say how fast a timer chip's clock runs, or which parts make it so, beside the software clock."""
    from handtick.cli import timers as work

    tolerances = given.r_tolerance, given.c_tolerance
    work.astable(common, given.chip, (given.r1, given.r2), given.c, (given.rate, given.duty), tolerances)


def _add_rates(parser: Parser, default: str) -> None:
    parser.add_argument("--rates", metavar="LIST", default=default, help="Rates to try, with commas between.")


def _add_capacitor(parser: Parser) -> None:
    parser.add_argument("--c", metavar="FARAD", help="The capacitor, such as 100n.")


def _add_chip_and_tolerances(parser: Parser) -> None:
    parser.add_argument("--chip", metavar="KIND", default="bipolar", help="bipolar or cmos.")
    parser.add_argument("--r-tolerance", metavar="PERCENT", default="5", help="How far resistors may be off.")
    parser.add_argument("--c-tolerance", metavar="PERCENT", default="20", help="How far capacitors may be off.")
