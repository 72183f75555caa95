"""Changes single settings in a board's ``settings.toml`` and leaves the rest of the file as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from handtick.errors import UsageError


def changed(text: str, settings: Mapping[str, str]) -> str:
    """The text of a settings file with these settings; a line that sets one is replaced, also where it is commented
    out, and what is not there yet comes at the end."""
    for name, value in settings.items():
        line = f"{name} = {value}"
        there = re.compile(rf"^[ \t]*(?:#[ \t]*)?{re.escape(name)}[ \t]*=.*$", re.MULTILINE)
        text = there.sub(line, text, count=1) if there.search(text) else f"{text.rstrip()}\n{line}\n"
    return text


def change_settings(path: Path, settings: Mapping[str, str]) -> None:
    """Changes settings in a file.

    Raises:
        UsageError: it can't be read or written; a board's drive that is read-only to the computer is the usual cause.
    """
    try:
        path.write_text(changed(path.read_text(encoding="utf-8"), settings), encoding="utf-8")
    except (OSError, UnicodeDecodeError) as error:
        raise UsageError(f"{path}: can't be changed: {error}; nothing was set") from error
