"""The command line as its reference shows it: every command with its arguments and options, and the exit statuses."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import typer

from handtick import errors
from handtick.cli import INTERRUPTED
from handtick.cli.app import app

_LEFT_OUT = ("--help", "--install-completion", "--show-completion")


def command_list() -> str:
    """Every command with what it does, its arguments and its options, as Markdown."""
    return "\n".join(_section(words, command) for words, command in commands())


def commands() -> Iterator[tuple[str, Any]]:
    """Every command as (words, command): first "handtick" itself, then "handtick ports" and so on."""

    def under(command: Any, words: str) -> Iterator[tuple[str, Any]]:
        yield words, command
        for name, each in getattr(command, "commands", {}).items():
            yield from under(each, f"{words} {name}")

    return under(typer.main.get_command(app), "handtick")


def parameters(command: Any) -> Iterator[tuple[str, str, str]]:
    """A command's arguments and options as (kind, how it is written, what it is)."""
    for parameter in command.params:
        names = [*parameter.opts, *parameter.secondary_opts]
        if names[0] in _LEFT_OUT:
            continue
        if parameter.param_type_name == "argument":
            yield "argument", str(parameter.metavar), str(parameter.help)
        else:
            value = f" {parameter.metavar}" if parameter.metavar else ""
            yield "option", "/".join(names) + value, str(parameter.help)


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


def _section(words: str, command: Any) -> str:
    rows = list(parameters(command))
    arguments = "".join(f" {shape}" for kind, shape, _ in rows if kind == "argument")
    lines = [f"### {words}{arguments}", "", str(command.help), ""]
    if rows:
        lines += ["| given | what it is |", "|---|---|"]
        lines += [f"| `{shape}` | {meaning} |".replace("N|TIME", "N\\|TIME") for _, shape, meaning in rows]
        lines.append("")
    return "\n".join(lines)
