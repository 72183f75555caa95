"""The command line as a whole: what every command takes, and the topics in the order in which the help lists them."""

from __future__ import annotations

from argparse import SUPPRESS
from collections.abc import Container, Iterable
from pathlib import Path

from handtick import __version__
from handtick.cli.completion import ForShell, install, show
from handtick.cli.parser import Parser
from handtick.cli.topics import boards, driving, finding, measuring, seeing, sharing
from handtick.cli.topics.topic import Topic

TOPICS = (driving.TOPIC, finding.TOPIC, seeing.TOPIC, boards.TOPIC, measuring.TOPIC, sharing.TOPIC)

_SENTENCE = "Clock a home-built processor tick by tick, log every tick, and find where it went wrong."
_LAST_LINE = (
    "The options --board, --log, --wiring, --json and --quiet may stand anywhere on the line. "
    "Exit status: 0 done, 2 wrong usage, 3 no board, 4 refused, 5 link lost, 6 stopped early, 7 no log, "
    "8 another start, 9 it differs."
)


def make_parser(words: Container[str] | None = None) -> Parser:
    """What reads the command line. Its result has the command's ``act``, None where a command has yet to follow, and
    the ``parser`` that knows what could.

    Args:
        words: the words to be read. Only commands that are among them are made, as making all takes a while; None
            for all.
    """
    parser = Parser(prog="handtick", description=_SENTENCE, epilog=_LAST_LINE)
    parser.set_defaults(act=None, parser=parser)
    parser.add_argument(
        "--version", action="version", version=f"handtick {__version__}", help="Print the version and stop."
    )
    parser.add_argument(
        "--install-completion", action=ForShell, deed=install, help="Install completion for a shell, or for yours."
    )
    parser.add_argument(
        "--show-completion", action=ForShell, deed=show, help="Show completion for a shell, or for yours, to copy it."
    )
    _add_common_options(parser)
    _add_commands(parser, TOPICS, words)
    return parser


def _add_commands(parser: Parser, topics: Iterable[Topic], words: Container[str] | None) -> None:
    commands = parser.add_subparsers(metavar="COMMAND", prog=parser.prog, help=SUPPRESS)
    for topic in topics:
        parser.list_commands(topic.title, [(command.name, command.sentence) for command in topic.commands])
        for command in topic.commands:
            if words is None or command.name in words:
                added = commands.add_parser(command.name, description=command.sentence)
                added.set_defaults(act=command.act, parser=added)
                command.arguments(added)
                _add_common_options(added)
                if command.under is not None:
                    _add_commands(added, [command.under], words)


def _add_common_options(parser: Parser) -> None:
    """Adds what every command takes. What is not given is not in the result: a command's parser leaves alone what stood
    before the command."""
    options = parser.add_argument_group("Options of every command", argument_default=SUPPRESS)
    options.add_argument(
        "--board",
        metavar="PORT",
        help="A port, socket://HOST:PORT, or virtual: the one being served, else one as long as the command. Without "
        "it, the one board there is.",
    )
    options.add_argument(
        "--log", metavar="FILE", type=Path, help="The tick log, an SQLite file. Without it, handtick.sqlite3."
    )
    options.add_argument(
        "--wiring", metavar="FILE", type=Path, help="The wiring file. Without it, wiring.toml where there is one."
    )
    options.add_argument("--json", action="store_true", help="Print one JSON object a tick or answer.")
    options.add_argument("--quiet", action="store_true", help="Print nothing but errors.")
