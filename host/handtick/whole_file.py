"""Writes the files that people ask for: whole or not at all, and straight into what is no plain file."""

from __future__ import annotations

import contextlib
import errno
import os
import stat
from collections.abc import Iterator
from pathlib import Path

from handtick.errors import HandtickError


def unwritable(path: Path | str, error: OSError, then: str = "") -> HandtickError:
    """What to raise where something can't be written: which, why, and what to do next, if there is more to say."""
    why = os.strerror(error.errno).lower() if error.errno else "failed"
    return HandtickError(f"{path}: can't be written: {why}{then}")


def check_place(path: Path | str) -> None:
    """Sees that a file of that name could be, before much is done for it.

    Raises:
        HandtickError: the name is empty or a folder's, or its folder is not there.
    """
    whole = Path(path)
    if not whole.name:
        raise HandtickError(f"{str(path)!r}: can't be written: give the name of a file")
    error, above = _trouble(whole), _trouble(whole.parent)
    if error is None and whole.is_dir():
        raise HandtickError(f"{path}: can't be written: it is a folder; give the name of a file in it")
    if isinstance(above, FileNotFoundError | NotADirectoryError) or (above is None and not whole.parent.is_dir()):
        raise HandtickError(f"{path}: can't be written: there is no folder {str(whole.parent)!r}")
    if error is not None and not isinstance(error, FileNotFoundError):
        raise unwritable(path, error)


def is_plain(path: Path | str) -> bool:
    """Whether a name is that of a plain file, or of none yet; not of a pipe, a terminal or a device."""
    return _trouble(Path(path)) is not None or Path(path).is_file()


@contextlib.contextmanager
def whole_file(path: Path | str) -> Iterator[Path]:
    """The name to write under in the block; where the block fails, what had been there before is still there.

    Links are followed. Into a pipe, a terminal or a device is written as it is: nothing takes its place.

    Raises:
        HandtickError: it can't be written.
    """
    check_place(path)
    part = None
    try:
        if not is_plain(path):
            yield Path(path)
            return
        whole = Path(path).resolve()
        if whole.exists() and not os.access(whole, os.W_OK):
            raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))
        part = _new_file(whole.parent)
        if whole.exists():
            part.chmod(stat.S_IMODE(whole.stat().st_mode))
        yield part
        part.replace(whole)
        part = None
    except OSError as error:
        raise unwritable(path, error) from error
    finally:
        if part is not None:
            with contextlib.suppress(OSError):
                part.unlink()


def write_whole(path: Path | str, data: bytes) -> None:
    """Writes a file at once; as ``whole_file``."""
    with whole_file(path) as part:
        part.write_bytes(data)


def _trouble(path: Path) -> OSError | None:
    """Why nothing can be said of a name, such as that nothing is there; None where something can."""
    try:
        path.stat()
    except OSError as error:
        return error
    return None


def _new_file(folder: Path) -> Path:
    """A file of our own in a folder, with a name that nobody has and the rights that new files get."""
    while True:
        part = folder / f".handtick-{os.urandom(8).hex()}.part"
        with contextlib.suppress(FileExistsError):
            part.touch(exist_ok=False)
            return part
