"""Commands for whoever shows the clock to others."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.parser import Parser
from handtick.cli.topics.topic import Topic

TOPIC = Topic("Showing it to others")


def _share_arguments(parser: Parser) -> None:
    parser.add_argument(
        "--network", action="store_true", help="Let other computers of the network in, and not this one only."
    )
    parser.add_argument("--port", metavar="PORT", default="8470", help="The TCP port; 0 for any.")
    parser.add_argument("--lesson", metavar="FILE", type=Path, help="The lesson to go through.")
    parser.add_argument("--replay", metavar="LOG", type=Path, help="Show the ticks of a log instead of a board's.")
    parser.add_argument(
        "--gone",
        metavar="SECONDS",
        default="10",
        help="When the crank comes back from somebody whose link is gone.",
    )
    parser.add_argument(
        "--name",
        dest="names",
        metavar="HOST",
        action="append",
        help="One more name of this machine; repeat it.",
    )
    parser.add_argument(
        "--broker", metavar="URL", help="An MQTT broker for more rooms: mqtt://[user@]host[:port][/prefix]."
    )
    parser.add_argument("--broker-ca", metavar="FILE", help="The certificates to trust of a broker at mqtts://.")


@TOPIC.command("share", _share_arguments)
def share(common: Common, given: Namespace) -> None:
    """Share the clock with a class: a page for everybody, one at a time at the crank, until Ctrl-C."""
    from handtick.cli import share as work

    work.share(
        common,
        given.network,
        given.port,
        given.lesson,
        given.replay,
        given.gone,
        given.names or [],
        given.broker,
        given.broker_ca,
    )


def _lesson_arguments(parser: Parser) -> None:
    parser.add_argument("file", metavar="LESSON", type=Path, help="The lesson.")
    parser.add_argument("logs", metavar="LOG", type=Path, nargs="+", help="A log a board.")


@TOPIC.command("lesson", _lesson_arguments)
def lesson(common: Common, given: Namespace) -> None:
    """Say of each board's log at which tick it first differs from what a lesson expects."""
    from handtick.cli import lesson as work

    work.lesson(common, given.file, given.logs)


def _demo_arguments(parser: Parser) -> None:
    parser.add_argument("--quick", action="store_true", help="Do not wait between ticks.")


@TOPIC.command("demo", _demo_arguments)
def demo(common: Common, given: Namespace) -> None:
    """Step Larch, the built-in machine, through its program: no hardware needed."""
    from handtick.cli import demo as work

    work.demo(common, given.quick)
