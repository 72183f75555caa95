"""Commands that find a fault: runs made again, compared and judged."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.parser import Parser
from handtick.cli.topics.topic import Topic

TOPIC = Topic("Finding a fault")


def _rewind_arguments(parser: Parser) -> None:
    parser.add_argument("back", metavar="N", nargs="?", help="How many ticks to go back.")
    parser.add_argument("--to", dest="to_tick", metavar="TICK", help="The tick to go back to.")
    parser.add_argument("--rate", metavar="RATE", help="Ticks a second on the way.")


@TOPIC.command("rewind", _rewind_arguments)
def rewind(common: Common, given: Namespace) -> None:
    """Reset and advance again to an earlier tick, and see whether the machine goes the same way."""
    from handtick.cli import lockstep

    lockstep.rewind(common, given.back, given.to_tick, given.rate)


def _check_arguments(parser: Parser) -> None:
    parser.add_argument("model", metavar="MODEL", type=Path, help="A Python file with your model of the machine.")
    parser.add_argument("--ticks", metavar="N", help="How many ticks. Without it, 1000.")
    parser.add_argument("--rate", metavar="RATE", help="Run in blocks at a rate, not a tick at a time.")


@TOPIC.command("check", _check_arguments)
def check(common: Common, given: Namespace) -> None:
    """Run the machine and a model in lockstep, and rest at the first tick where they differ."""
    from handtick.cli import lockstep

    lockstep.check(common, given.model, given.ticks, given.rate)


def _compare_arguments(parser: Parser) -> None:
    parser.add_argument("expected", metavar="A", help="What should be: a run's number, or a file.")
    parser.add_argument("seen", metavar="B", help="What was: likewise.")
    parser.add_argument("--late", action="store_true", help="Compare late samples instead of early ones.")


@TOPIC.command("compare", _compare_arguments)
def compare(common: Common, given: Namespace) -> None:
    """Compare two runs, or a run with a CSV or JSON Lines file: the first difference, and what would do that."""
    from handtick.cli import lockstep

    lockstep.compare(common, given.expected, given.seen, given.late)


def _wobble_arguments(parser: Parser) -> None:
    _add_how_far(parser)
    parser.add_argument("--times", metavar="N", default="20", help="How many runs.")
    parser.add_argument("--rate", metavar="RATE", help="Ticks a second.")


@TOPIC.command("wobble", _wobble_arguments)
def wobble(common: Common, given: Namespace) -> None:
    """Make the same run again and again, and say which line ever differed, at which tick, and how often."""
    from handtick.cli import search

    search.wobble(common, given.to_tick, given.times, given.rate)


def _sweep_arguments(parser: Parser) -> None:
    _add_how_far(parser)
    parser.add_argument("--expect", metavar="FILE", help="What each run should be, instead of the slow run.")
    parser.add_argument("--duty", metavar="LIST", help="Percents the clock is high, such as 25,50,75.")
    parser.add_argument("--from", dest="slow", metavar="RATE", required=True, help="A rate that is slow enough.")
    parser.add_argument("--up-to", dest="fast", metavar="RATE", required=True, help="The fastest rate to try.")
    parser.add_argument("--times", metavar="N", default="5", help="How often the limit is tried.")


@TOPIC.command("sweep", _sweep_arguments)
def sweep(common: Common, given: Namespace) -> None:
    """Find how fast the machine goes: the same run at rising rates, each compared with a slow one."""
    from handtick.cli import search

    search.sweep_rates(common, given.to_tick, given.slow, given.fast, given.times, given.expect, given.duty)


def _add_how_far(parser: Parser) -> None:
    parser.add_argument("--to", dest="to_tick", metavar="TICK", required=True, help="How far each run goes.")
