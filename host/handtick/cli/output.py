"""Standard output: what it can't show is replaced, and where it can't be written, that is an error of one line."""

from __future__ import annotations

import errno
import io
import os
import sys
from typing import Any

from handtick.errors import HandtickError
from handtick.whole_file import unwritable

_NAME = "standard output"


def prepare_output() -> None:
    """Has everything printed from now on go out so.

    Raises:
        HandtickError: there is no standard output.
    """
    out = sys.stdout
    if out is None:
        raise HandtickError(f"{_NAME} is closed; give it somewhere to go")
    if not isinstance(out, io.TextIOWrapper):
        return
    raw = getattr(out.buffer, "raw", out.buffer)
    if type(raw) is io.FileIO:
        told: Any = _Told(raw.fileno(), "wb", closefd=False)
        sys.stdout = io.TextIOWrapper(
            told if raw is out.buffer else io.BufferedWriter(told),
            encoding=out.encoding,
            line_buffering=out.line_buffering,
            write_through=out.write_through,
        )
    reconfigure_output(errors="replace")


def reconfigure_output(**how: Any) -> None:
    """Changes how text becomes bytes there, where it does; as ``TextIOWrapper.reconfigure``."""
    if isinstance(sys.stdout, io.TextIOWrapper):
        sys.stdout.reconfigure(**how)


def let_go_of_output() -> None:
    """Drops what can't be printed, so that Python does not try again at its end."""
    try:
        if sys.stdout is not None:
            sys.stdout.flush()
    except (HandtickError, OSError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


class _Told(io.FileIO):
    """A file whose errors are ours, but for a broken pipe: whoever read it has had enough."""

    def write(self, data: Any, /) -> int:
        """See ``FileIO.write``."""
        try:
            count: int | None = super().write(data)
        except BrokenPipeError:
            raise
        except OSError as error:
            raise unwritable(_NAME, error) from error
        if count is None:
            raise unwritable(_NAME, BlockingIOError(errno.EAGAIN, ""))
        return count
