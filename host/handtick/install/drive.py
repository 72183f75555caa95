"""A board's drive: where it is mounted, what CircuitPython is on it, and its files."""

from __future__ import annotations

import contextlib
import os
import re
import shutil
import string
import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Protocol

from handtick.errors import HandtickError, Refused

LABEL = "CIRCUITPY"
BOOT_OUT = "boot_out.txt"
NEEDED_MAJOR = 10
INSTRUCTIONS = "https://circuitpython.org/downloads"

_VERSION = re.compile(r"CircuitPython (\d+)\.(\d+)\S*")
_BOARD = re.compile(r"^Board ID:(\S+)", re.MULTILINE)


class DriveFiles(Protocol):
    """Files of a drive, by name with slashes."""

    def read(self, name: str) -> bytes | None:
        """The file; None where there is none."""

    def write(self, name: str, data: bytes) -> None:
        """Writes a file and makes sure that it is on the drive; folders on the way are made."""

    def rename(self, name: str, new_name: str) -> None:
        """Gives a file another name, in place of the file that has it."""

    def remove(self, name: str) -> None:
        """Removes a file, if it is there."""

    def names(self, folder: str) -> list[str]:
        """Names of the files of a folder, with the folder's; none where there is no such folder."""

    @property
    def free(self) -> int:
        """Bytes that can still be written."""


class Folder:
    """A mounted drive, or any folder.

    Args:
        path: the folder.
    """

    def __init__(self, path: Path) -> None:
        self.path = path

    def read(self, name: str) -> bytes | None:
        """See ``DriveFiles``."""
        try:
            return (self.path / name).read_bytes()
        except (FileNotFoundError, NotADirectoryError):
            return None
        except OSError as error:
            raise _trouble(self.path / name, error) from error

    def write(self, name: str, data: bytes) -> None:
        """See ``DriveFiles``."""
        path = self.path / name
        try:
            path.parent.mkdir(parents=True, exist_ok=True)
            with path.open("wb") as file:
                file.write(data)
                file.flush()
                os.fsync(file.fileno())
        except OSError as error:
            raise _trouble(path, error) from error

    def rename(self, name: str, new_name: str) -> None:
        """See ``DriveFiles``."""
        try:
            (self.path / name).replace(self.path / new_name)
        except OSError as error:
            raise _trouble(self.path / new_name, error) from error

    def remove(self, name: str) -> None:
        """See ``DriveFiles``."""
        try:
            (self.path / name).unlink(missing_ok=True)
        except OSError as error:
            raise _trouble(self.path / name, error) from error

    def names(self, folder: str) -> list[str]:
        """See ``DriveFiles``."""
        where = self.path / folder
        return sorted(f"{folder}/{path.name}" for path in where.iterdir() if path.is_file()) if where.is_dir() else []

    @property
    def free(self) -> int:
        """See ``DriveFiles``."""
        return shutil.disk_usage(self.path).free


def find_drives() -> list[Path]:
    """Mounted drives that CircuitPython made."""
    return sorted(path for path in set(_mounted()) if (path / BOOT_OUT).is_file())


def check_version(boot_out: str, where: str) -> str:
    """Sees that a drive's CircuitPython is one that the firmware runs on; returns the kind of board.

    Args:
        boot_out: the text of ``boot_out.txt``, which CircuitPython writes at every start.
        where: the drive, for the message.

    Raises:
        Refused: it is another version, or the file says none.
    """
    found = _VERSION.search(boot_out)
    if found is None:
        raise Refused(f"{where}: its {BOOT_OUT} names no CircuitPython version; is it a board's drive?")
    if int(found[1]) != NEEDED_MAJOR:
        raise Refused(
            f"{where}: CircuitPython {found[1]}.{found[2]} is on the board and handtick needs {NEEDED_MAJOR}.x; "
            f"how to change it: {INSTRUCTIONS}"
        )
    board = _BOARD.search(boot_out)
    return board[1] if board is not None else "unknown board"


def _mounted() -> Iterator[Path]:
    """Where drives with CircuitPython's label are mounted on this kind of system."""
    if sys.platform == "win32":
        yield from (Path(f"{letter}:\\") for letter in string.ascii_uppercase)
    elif sys.platform == "darwin":
        yield from Path("/Volumes").glob(f"{LABEL}*")
    else:
        with contextlib.suppress(OSError):
            for line in Path("/proc/mounts").read_text(encoding="utf-8").splitlines():
                # Spaces in a name are written \\040.
                where = line.split(" ")[1].replace("\\040", " ")
                if Path(where).name.startswith(LABEL):
                    yield Path(where)


def _trouble(path: Path, error: OSError) -> HandtickError:
    why = (error.strerror or "failed").lower()
    return HandtickError(f"{path}: {why}; is the drive mounted for writing, and has it room?")
