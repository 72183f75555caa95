"""What a command says that needs another word after it."""

from __future__ import annotations

import typer


def print_help(context: typer.Context) -> None:
    """Prints the help of a command that stands alone, and ends with the status of a wrong usage."""
    if context.invoked_subcommand is None:
        print(context.get_help())
        raise typer.Exit(2)
