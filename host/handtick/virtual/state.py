"""Where a served virtual board leaves word of itself, so that other commands find it, and its boot number."""

from __future__ import annotations

import contextlib
import json
import os
from pathlib import Path


def state_folder() -> Path:
    """The folder: ``$HANDTICK_STATE``, or ``handtick`` in the user's state folder."""
    if chosen := os.environ.get("HANDTICK_STATE"):
        return Path(chosen)
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA", str(Path.home()))) / "handtick"
    return Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "handtick"


def next_boot(kind: str = "virtual") -> int:
    """Counts one more start of a board that lives on this computer and returns its number, from 1."""
    path = state_folder() / f"{kind}-boots"
    boot = 1
    with contextlib.suppress(OSError, ValueError):
        boot = int(path.read_text(encoding="ascii")) + 1
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text(f"{boot}\n", encoding="ascii")
    return boot


def tell_port(port: str) -> None:
    """Leaves word that this process serves a virtual board at ``port``."""
    _notice().parent.mkdir(parents=True, exist_ok=True)
    _notice().write_text(json.dumps({"port": port, "pid": os.getpid()}), encoding="utf-8")


def untell_port() -> None:
    """Takes the word back, if it is this process's own."""
    with contextlib.suppress(OSError, ValueError, KeyError):
        if json.loads(_notice().read_text(encoding="utf-8"))["pid"] == os.getpid():
            _notice().unlink()


def served_port() -> str | None:
    """The port at which a virtual board is being served on this machine; None if none is."""
    try:
        notice = json.loads(_notice().read_text(encoding="utf-8"))
        os.kill(int(notice["pid"]), 0)
        return str(notice["port"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _notice() -> Path:
    return state_folder() / "virtual-port.json"
