"""Commands that ask a board how it stands, and that drive its clock."""

from __future__ import annotations

from argparse import Namespace

from handtick.cli.common import Common
from handtick.cli.parser import Parser
from handtick.cli.topics.topic import Topic

TOPIC = Topic("Driving the clock")


@TOPIC.command("ports")
def ports(common: Common, given: Namespace) -> None:
    """List the ports that could have a board, and which do."""
    from handtick.cli import look

    look.ports(common)


@TOPIC.command("status")
def status(common: Common, given: Namespace) -> None:
    """Say who the board is, how its clock stands, and what the machine's lines hold now."""
    from handtick.cli import look

    look.status(common)


def _step_arguments(parser: Parser) -> None:
    parser.add_argument("count", metavar="N", nargs="?", default="1", help="How many ticks.")
    parser.add_argument("--half", action="store_true", help="Only the next edge.")
    parser.add_argument(
        "--instruction",
        action="store_true",
        help="As many ticks as it takes to the next start of an instruction.",
    )
    parser.add_argument("--microstep", action="store_true", help="To the next step within an instruction.")
    _add_stop_rule(parser)
    _add_halt_and_trigger(parser)
    parser.add_argument(
        "--by-ready",
        action="store_true",
        help="The clock runs on, and the ready line lets the machine go N cycles.",
    )
    parser.add_argument(
        "--rate", metavar="RATE", help="With --by-ready: ticks a second, where the clock is at rest yet."
    )
    parser.add_argument("--then-run", action="store_true", help="With --by-ready: after them, leave the machine ready.")


@TOPIC.command("step", _step_arguments)
def step(common: Common, given: Namespace) -> None:
    """Make ticks of a fixed width, one after the other."""
    if given.by_ready or given.rate is not None or given.then_run:
        from handtick.cli import ready

        others = [given.half, given.instruction, given.microstep, given.stop_when, given.ignore_halt, given.trigger]
        beside = any(other not in (False, None) for other in others)
        ready.step(common, given.count, given.by_ready, beside, given.rate, given.then_run)
        return
    from handtick.cli import clock

    clock.step(
        common,
        given.count,
        given.half,
        given.instruction,
        given.microstep,
        given.stop_when,
        given.ignore_halt,
        given.trigger,
    )


def _run_arguments(parser: Parser) -> None:
    parser.add_argument("rate", metavar="RATE", help="Ticks a second: 2, 2Hz, 0.5, 1.5kHz, 1MHz.")
    parser.add_argument("--for", dest="extent", metavar="N|TIME", help="Ticks, such as 40, or a time, such as 10s.")
    _add_stop_rule(parser)
    parser.add_argument("--expect", metavar="FILE", help="Rest at the first tick that differs from this file.")
    _add_samples(parser)
    _add_halt_and_trigger(parser)


@TOPIC.command("run", _run_arguments)
def run(common: Common, given: Namespace) -> None:
    """Run at a rate, until halted with Ctrl-C, by the machine, or after so many ticks or so long."""
    from handtick.cli import clock

    clock.run(
        common,
        given.rate,
        given.extent,
        given.stop_when,
        given.expect,
        given.samples,
        given.ignore_halt,
        given.trigger,
    )


def _to_arguments(parser: Parser) -> None:
    parser.add_argument("tick", metavar="TICK", help="The tick number to reach.")
    parser.add_argument("--rate", metavar="RATE", help="Ticks a second. Without it, as fast as it goes.")
    _add_stop_rule(parser)
    _add_samples(parser)
    _add_halt_and_trigger(parser)


@TOPIC.command("to", _to_arguments)
def to(common: Common, given: Namespace) -> None:
    """Run until a tick number is reached, and rest there."""
    from handtick.cli import clock

    clock.to(common, given.tick, given.rate, given.stop_when, given.samples, given.ignore_halt, given.trigger)


@TOPIC.command("halt")
def halt(common: Common, given: Namespace) -> None:
    """Come to rest at the next tick boundary."""
    from handtick.cli import clock

    clock.halt(common)


@TOPIC.command("reset")
def reset(common: Common, given: Namespace) -> None:
    """Reset the machine; the tick after it is tick 1."""
    from handtick.cli import clock

    clock.reset(common)


def _add_stop_rule(parser: Parser) -> None:
    parser.add_argument(
        "--stop-when", metavar="RULE", help="Rest where this holds, such as: data == 0x2A and tick > 100"
    )


def _add_samples(parser: Parser) -> None:
    parser.add_argument(
        "--samples",
        metavar="all|last|auto",
        default="auto",
        help="Of which ticks to log what the probes held, where there are many.",
    )


def _add_halt_and_trigger(parser: Parser) -> None:
    parser.add_argument("--ignore-halt", metavar="N", help="Go past the machine's halt line for the first N ticks.")
    parser.add_argument(
        "--trigger", metavar="TICK", help="Raise the trigger output for this tick, for an oscilloscope."
    )
