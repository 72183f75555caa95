"""Completion of what is typed, in the user's shell; argcomplete knows the shells."""

from __future__ import annotations

import os
from argparse import Action, ArgumentParser, Namespace
from collections.abc import Callable
from pathlib import Path
from typing import Any

from handtick.errors import UsageError

#: For each shell, the file that it reads at its start, and the line there that makes it complete.
_STARTS = {
    "bash": (".bashrc", 'eval "$(handtick --show-completion bash)"'),
    "zsh": (".zshrc", 'autoload -Uz compinit && compinit && eval "$(handtick --show-completion zsh)"'),
    "fish": (".config/fish/config.fish", "handtick --show-completion fish | source"),
}


def complete(parser: ArgumentParser) -> None:
    """Answers a shell that asks what could come next, and ends."""
    from argcomplete import autocomplete

    autocomplete(parser)


def show(shell: str) -> None:
    """Prints what the shell has to run."""
    from argcomplete.shell_integration import shellcode

    print(shellcode(["handtick"], shell=shell))


def install(shell: str) -> None:
    """Adds a line to what the shell reads at its start."""
    name, line = _STARTS[shell]
    file = Path.home() / name
    try:
        there = file.read_bytes() if file.exists() else b""
        if line.encode() not in there.splitlines():
            file.parent.mkdir(parents=True, exist_ok=True)
            with file.open("a", encoding="utf-8") as end:
                end.write(f"\n{line}\n")
    except OSError as error:
        from handtick.whole_file import unwritable

        raise unwritable(file, error, f"; the line is: {line}") from error
    print(f"{file} has the line: {line}\nIt completes in every {shell} that is opened from now on.")


class ForShell(Action):
    """An option that does something for a shell, the user's unless another is named, and ends."""

    def __init__(self, deed: Callable[[str], None], **words: Any) -> None:
        super().__init__(nargs="?", metavar="SHELL", **words)
        self._deed = deed

    def __call__(
        self, parser: ArgumentParser, namespace: Namespace, values: Any, option_string: str | None = None
    ) -> None:
        """Called where it is found on the line."""
        shell = values or Path(os.environ.get("SHELL", "")).name
        if shell not in _STARTS:
            raise UsageError(
                f"{option_string}: not known here is {shell or 'your shell'}; name one of {', '.join(_STARTS)}"
            )
        self._deed(shell)
        parser.exit()
