"""How the command line is read and its help laid out: argparse, with mistakes as one line and names spelt in full."""

from __future__ import annotations

import argparse
import os
from collections.abc import Iterable, Sequence
from typing import Any, NoReturn

from handtick.errors import UsageError

# Widths in characters: of a terminal that does not tell its own, and the widest that help is laid out for.
_USUAL = 80
_WIDEST = 100
_HELP_COLUMN = 27


class Parser(argparse.ArgumentParser):
    """Reads the words after a command, or after ``handtick`` itself; a mistake there is a ``UsageError``."""

    def __init__(self, **words: Any) -> None:
        super().__init__(add_help=False, allow_abbrev=False, formatter_class=_Layout, **words)
        self._positionals.title = "Arguments"
        self._optionals.title = "Options"
        self._command_names: list[str] = []
        self.add_argument("--help", action="help", help="Show this message and exit.")

    def list_commands(self, title: str, commands: Iterable[tuple[str, str]]) -> None:
        """Has the help list commands, each a name and what it does, under a heading; argparse has but one for all."""
        listed = self.add_argument_group(title)
        for name, sentence in commands:
            self._command_names.append(name)
            listed._group_actions.append(argparse.Action([], name, metavar=name, help=sentence))

    def parse_known_args(self, args: Any = None, namespace: Any = None) -> tuple[Any, list[str]]:
        """As argparse's; but what a command does not know is its own mistake, and not that of the whole line."""
        given, unknown = super().parse_known_args(args, namespace)
        if unknown:
            word = unknown[0]
            dashed = word.startswith("-") and word != "-"
            self.error(f"there is no option {word}" if dashed else f"{word!r} is one word too many")
        return given, unknown

    def error(self, message: str) -> NoReturn:
        """Raises what is wrong, and where to read what is right."""
        raise UsageError(f"{message.removeprefix('argument ')}; see: {self.prog} --help")

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        """Only commands are chosen from a list here, one too long to be printed."""
        if action.choices is not None and value not in action.choices:
            raise argparse.ArgumentError(None, f"there is no command {value!r}{_like(value, self._command_names)}")


def shape(action: argparse.Action) -> str:
    """An argument or option as it is typed: ``[N]``, ``LOG...``, ``--quiet``, ``--rate RATE``."""
    if action.option_strings:
        value = "" if action.nargs == 0 else f" {action.metavar}"
        return action.option_strings[0] + value
    forms = {"?": "[{}]", "+": "{}...", argparse.PARSER: "{} ..."}
    return forms.get(str(action.nargs), "{}").format(action.metavar)


def explained(action: argparse.Action) -> str:
    """What an argument or option is, and that it must be given, or what it is where it is not."""
    if action.required:
        return f"{action.help} [required]"
    if action.default in (None, True, False, argparse.SUPPRESS):
        return str(action.help)
    return f"{action.help} [default: {action.default}]"


class _Layout(argparse.HelpFormatter):
    """Help as wide as the terminal, with the usage in one line: the options are listed below it anyway."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=_HELP_COLUMN, width=_columns() - 2)

    def add_usage(
        self, usage: str | None, actions: Iterable[argparse.Action], groups: Any, prefix: str | None = None
    ) -> None:
        needed = [shape(action) for action in actions if action.option_strings and action.required]
        arguments = [shape(action) for action in actions if not action.option_strings]
        line = " ".join(["%(prog)s", *needed, "[OPTIONS]", *arguments])
        super().add_usage(line, actions, groups, "Usage: ")

    def _get_help_string(self, action: argparse.Action) -> str:
        return explained(action)


def _columns() -> int:
    """The width of the terminal, within limits. Asked here, as ``shutil`` takes longer to load than argparse does."""
    try:
        return min(os.get_terminal_size().columns or _USUAL, _WIDEST)
    except OSError:
        return _USUAL


def _like(word: str, names: Sequence[str]) -> str:
    from difflib import get_close_matches

    near = get_close_matches(word, names)
    return f", perhaps {' or '.join(map(repr, near))}" if near else ""
