"""Keeps Ctrl-C out of what must be done in whole, such as taking in what was read."""

from __future__ import annotations

import contextlib
import signal
import threading
from collections.abc import Iterator
from types import FrameType


@contextlib.contextmanager
def uninterrupted() -> Iterator[None]:
    """Has a Ctrl-C that comes while the block runs wait until its end, and take effect there.

    In other threads, where no Ctrl-C arrives, and in programs that leave it to the system, nothing is changed. The
    block should be short: nobody can leave it.
    """
    before = signal.getsignal(signal.SIGINT)
    if threading.current_thread() is not threading.main_thread() or not callable(before):
        yield
        return
    noted: list[tuple[int, FrameType | None]] = []
    signal.signal(signal.SIGINT, lambda number, frame: noted.append((number, frame)))
    try:
        yield
    finally:
        signal.signal(signal.SIGINT, before)
        if noted:
            before(*noted[0])
