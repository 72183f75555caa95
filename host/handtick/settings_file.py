"""Changes single settings in a board's ``settings.toml`` and leaves the rest of the file as it is."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path

from handtick.errors import UsageError
from handtick.install import Folder


def changed(text: str, settings: Mapping[str, str]) -> str:
    """The text of a settings file with these settings; a line that sets one is replaced, or else one that is commented
    out, and what is not there yet comes at the end."""
    for name, value in settings.items():
        text = _set(text, name, f"{name} = {value}")
    return text


def change_settings(path: Path, settings: Mapping[str, str]) -> None:
    """Changes settings in a file; cut off at any moment, it is the old file or the new one.

    Raises:
        UsageError: there is no such file, or it is no text.
        HandtickError: it can't be read or written, as on a drive that is read-only to the computer.
    """
    drive = Folder(path.parent)
    there = drive.read(path.name)
    if there is None:
        raise UsageError(f"{path}: there is no such file; is it a board's drive, with the firmware on it?")
    try:
        text = changed(there.decode(), settings)
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: byte {error.start} is not UTF-8 text; nothing was set") from error
    drive.write(path.name + ".new", text.encode())
    drive.rename(path.name + ".new", path.name)


def _set(text: str, name: str, line: str) -> str:
    for before in ("", "#[ \t]*"):
        there = re.compile(rf"^[ \t]*{before}{re.escape(name)}[ \t]*=.*$", re.MULTILINE)
        if there.search(text):
            return there.sub(line, text, count=1)
    return f"{text.rstrip()}\n{line}\n"
