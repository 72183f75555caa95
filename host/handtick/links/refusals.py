"""Why a port could not be opened, or can't be one, in one line: what happened, and what to do next."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

from handtick.errors import UsageError

# Reading and writing, for a file's group.
_FOR_GROUP = stat.S_IRGRP | stat.S_IWGRP


def check_address(name: str) -> None:
    """Sees that an address such as ``socket://host:port`` is whole.

    Raises:
        UsageError: it is not.
    """
    wrong = None
    try:
        address = urlsplit(name)
        if address.port is None:
            wrong = "the port is missing"
        elif not address.hostname:
            wrong = "the host is missing"
    except ValueError:
        wrong = "the port is no number from 0 to 65535, or the host is none"
    if wrong is not None:
        raise UsageError(f"{name}: {wrong}; write socket://HOST:PORT")


def why_closed(name: str, error: Exception) -> str:
    """Why the port of that name could not be opened."""
    number = getattr(error, "errno", None)
    text = str(error)
    if number == errno.EBUSY or "exclusively lock" in text or "Resource busy" in text:
        return f"{name}: in use by {_holder(name) or 'another program'}; close that first"
    if number == errno.EACCES or "ermission" in text:
        if os.name == "nt":
            return f"{name}: in use by another program, or not yours to open"
        group = _group(name)
        if not group:
            return (
                f"{name}: you may not open this port; on most systems you must be in the group that owns it (dialout)"
            )
        return (
            f"{name}: you may not open this port, the group {group} may; join that and log in again: "
            f"sudo usermod -aG {group} $USER"
        )
    if number == errno.ECONNREFUSED or "refused" in text:
        return f"{name}: nobody listens there; start one with: handtick virtual --tcp PORT"
    if number == errno.ENOENT or "could not open port" in text or "No such file" in text:
        return f"{name}: there is no such port; `handtick ports` lists those there are"
    return f"{name}: can't be opened: {text.splitlines()[0] if text else type(error).__name__}"


def _group(name: str) -> str:
    """The group whose members may open a port; empty where there is none that one would join."""
    with contextlib.suppress(ImportError, OSError, KeyError):
        import grp

        port = Path(name).stat()
        if port.st_gid and port.st_mode & _FOR_GROUP == _FOR_GROUP:
            return grp.getgrgid(port.st_gid).gr_name
    return ""


def _holder(name: str) -> str:
    """The program that has a port open, where this system lets us see it; empty where it doesn't."""
    with contextlib.suppress(OSError):
        port = Path(name).resolve()
        for process in _processes():
            if any(_leads_to(each, port) for each in (process / "fd").iterdir()):
                return f"{(process / 'comm').read_text(encoding='utf-8').strip()} (process {process.name})"
    return ""


def _processes() -> Iterator[Path]:
    """The processes whose open files we may see, where there is a /proc."""
    for process in Path("/proc").iterdir():
        if process.name.isdecimal() and os.access(process / "fd", os.R_OK):
            yield process


def _leads_to(link: Path, port: Path) -> bool:
    with contextlib.suppress(OSError):
        return link.readlink() == port
    return False
