"""The command line as its reference shows it: every command with its arguments and options, and the exit statuses."""

from __future__ import annotations

from argparse import PARSER, Action
from collections.abc import Iterator

from handtick import errors
from handtick.cli import INTERRUPTED
from handtick.cli.app import make_parser
from handtick.cli.common import Common
from handtick.cli.parser import Parser, explained, shape

# A bar inside a cell of a Markdown table.
_BAR = "\\|"
_LEFT_OUT = ("help", "install_completion", "show_completion")


def command_list() -> str:
    """Every command with what it does, its arguments and its options, as Markdown."""
    return "\n".join(_section(parser) for parser in parsers())


def parsers(words: list[str] | None = None) -> Iterator[Parser]:
    """What reads the words of each command: first of `handtick` itself, then of `handtick ports` and so on; of those
    among some words, or of all."""

    def under(parser: Parser) -> Iterator[Parser]:
        yield parser
        # argparse shows what has been declared nowhere but here.
        for action in parser._actions:
            if action.nargs == PARSER:
                for each in dict(action.choices or {}).values():
                    yield from under(each)

    return under(make_parser(words))


def parameters(parser: Parser) -> list[Action]:
    """A command's own arguments and options; those that every command takes are with `handtick` itself."""
    left_out = _LEFT_OUT if parser.prog == "handtick" else (*_LEFT_OUT, *Common._fields)
    return [action for action in parser._actions if action.nargs != PARSER and action.dest not in left_out]


def status_table() -> str:
    """Every exit status, as a Markdown table."""
    rows = ["| status | means |", "|---|---|", "| 0 | done |"]
    kinds: list[type[errors.HandtickError]] = [errors.HandtickError, *errors.HandtickError.__subclasses__()]
    for kind in sorted(kinds, key=lambda kind: kind.exit_status):
        words = (kind.__doc__ or "").splitlines()[0].rstrip(".")
        if kind is errors.HandtickError:
            words = "something else went wrong, as the line says"
        rows.append(f"| {kind.exit_status} | {words[0].lower()}{words[1:]} |")
    rows.append(f"| {INTERRUPTED} | interrupted before anything was asked of a clock |")
    return "\n".join(rows) + "\n"


def _section(parser: Parser) -> str:
    actions = parameters(parser)
    arguments = "".join(f" {shape(action)}" for action in actions if not action.option_strings)
    lines = [f"### {parser.prog}{arguments}", "", str(parser.description), ""]
    if actions:
        lines += ["| given | what it is |", "|---|---|"]
        lines += [f"| `{shape(action).replace('|', _BAR)}` | {explained(action)} |" for action in actions]
        lines.append("")
    return "\n".join(lines)
