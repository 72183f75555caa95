"""Where a served virtual board leaves word of itself, so that other commands find it, and its boot number."""

from __future__ import annotations

import contextlib
import json
import os
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import IO

from handtick.errors import HandtickError, Refused
from handtick.fresh import fresh_number

# How long another program may keep a lock that it needs for an instant only: to count, to look.
_COUNTING_S = 5.0
_LOOKING_S = 0.5
_AGAIN_S = 0.01
# Where counting begins: so many numbers that two beginnings do not meet.
_FIRST_BITS = 30

# What this process has told, and keeps locked while it is true.
_told = contextlib.ExitStack()


def state_folder() -> Path:
    """The folder: ``$HANDTICK_STATE``, or ``handtick`` in the user's state folder."""
    if chosen := os.environ.get("HANDTICK_STATE"):
        return Path(chosen)
    if os.name == "nt":
        return Path(os.environ.get("LOCALAPPDATA", str(Path.home()))) / "handtick"
    return Path(os.environ.get("XDG_STATE_HOME") or Path.home() / ".local" / "state") / "handtick"


def next_boot(kind: str = "virtual") -> int:
    """Counts one more start of a board that lives on this computer and returns its number, which none had before.

    Where there is no count yet, or none that can be read, counting begins anew at a random number: logs may be older
    than the folder, and ticks of two starts under one number would be taken for the same.

    Raises:
        HandtickError: the folder can't be written.
    """
    path = state_folder() / f"{kind}-boots"
    with _writing(), _locked(path.with_name(f"{path.name}.lock"), _COUNTING_S):
        try:
            boot = int(path.read_text(encoding="ascii")) + 1
        except (FileNotFoundError, ValueError):
            boot = 1 + fresh_number(_FIRST_BITS)
        _write(path, f"{boot}\n")
    return boot


def tell_port(port: str) -> None:
    """Leaves word that this process serves a virtual board at ``port``, until it takes the word back or ends.

    Raises:
        Refused: another process serves one.
        HandtickError: the folder can't be written.
    """
    with _writing():
        try:
            _told.enter_context(_locked(_notice_lock(), _LOOKING_S))
        except TimeoutError as error:
            raise Refused("a virtual board is served already; stop that one first") from error
        _write(_notice(), json.dumps({"port": port, "pid": os.getpid()}))
        _told.callback(_notice().unlink, missing_ok=True)


def untell_port() -> None:
    """Takes the word back, if this process has left it."""
    with contextlib.suppress(OSError):
        _told.close()


def served_port() -> str | None:
    """The port at which a virtual board is being served on this machine; None if none is."""
    try:
        with _notice_lock().open("rb") as lock:
            # Free: whoever left word has ended, however it did. A process's number may be another's by now.
            if _lock(lock, shared=True):
                return None
        return str(json.loads(_notice().read_text(encoding="utf-8"))["port"])
    except (OSError, ValueError, KeyError, TypeError):
        return None


def _notice() -> Path:
    return state_folder() / "virtual-port.json"


def _notice_lock() -> Path:
    return state_folder() / "virtual-port.lock"


@contextlib.contextmanager
def _writing() -> Iterator[None]:
    """Makes the folder; what the system says against writing in it becomes a sentence."""
    try:
        state_folder().mkdir(parents=True, exist_ok=True)
        yield
    except OSError as error:
        why = (error.strerror or str(error) or "it failed").lower()
        raise HandtickError(
            f"the state folder {str(state_folder())!r} can't be written: {why}; name another with HANDTICK_STATE=FOLDER"
        ) from error


def _write(path: Path, text: str) -> None:
    """Writes a file that is old or new for whoever reads it meanwhile, and wherever this is cut off."""
    beside = path.with_name(f"{path.name}.new")
    beside.write_text(text, encoding="utf-8")
    beside.replace(path)


@contextlib.contextmanager
def _locked(path: Path, patience_s: float) -> Iterator[None]:
    """Keeps other processes out; the system lets them in again when this one ends.

    Raises:
        TimeoutError: another one stays in there for longer than that.
    """
    with path.open("ab") as lock:
        until = time.monotonic() + patience_s
        while not _lock(lock):
            if time.monotonic() >= until:
                raise TimeoutError(f"another program holds {path.name}")
            time.sleep(_AGAIN_S)
        yield


def _lock(lock: IO[bytes], shared: bool = False) -> bool:
    """Locks a file until it is closed, if nobody else has; several who only look may at once."""
    try:
        if sys.platform == "win32":
            import msvcrt

            lock.seek(0)
            msvcrt.locking(lock.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(lock, (fcntl.LOCK_SH if shared else fcntl.LOCK_EX) | fcntl.LOCK_NB)
    except (BlockingIOError, PermissionError):
        return False
    return True
