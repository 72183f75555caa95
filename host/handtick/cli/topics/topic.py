"""A topic of the command line: commands, each with its sentence, its arguments and what carries it out."""

from argparse import Namespace
from collections.abc import Callable
from typing import NamedTuple

from handtick.cli.common import Common
from handtick.cli.parser import Parser

#: Carries a command out, with the options of every command and what else was given.
Act = Callable[[Common, Namespace], None]
#: Adds a command's arguments and options to its parser.
Arguments = Callable[[Parser], None]


class Topic:
    """Commands that the help lists under one heading, in the order in which they are declared.

    Attributes:
        title: the heading.
        commands: the commands.
    """

    def __init__(self, title: str) -> None:
        self.title = title
        self.commands: list[Command] = []

    def command(self, name: str, arguments: Arguments = lambda parser: None) -> Callable[[Act], Act]:
        """Declares that a function carries out a command; its docstring says what that does."""

        def declare(act: Act) -> Act:
            self.commands.append(Command(name, act.__doc__ or "", arguments, act, None))
            return act

        return declare

    def under(self, name: str, sentence: str) -> "Topic":
        """Declares a word that has commands after it; returns those, to be declared."""
        topic = Topic("Commands")
        self.commands.append(Command(name, sentence, lambda parser: None, None, topic))
        return topic


class Command(NamedTuple):
    """A command, or a word such as ``log`` that has its commands after it.

    Attributes:
        name: as it is typed.
        sentence: what it does.
        arguments: adds its arguments.
        act: carries it out; None where a command must follow.
        under: the commands after it, if it is such a word.
    """

    name: str
    sentence: str
    arguments: Arguments
    act: Act | None
    under: Topic | None
