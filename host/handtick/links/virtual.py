"""A link to a virtual board in this very process, in virtual time or at the pace of the wall clock."""

from __future__ import annotations

import time
from collections.abc import Callable

from handtick.errors import LinkLost
from handtick.virtual.board import VirtualBoard

_NAP_US = 20_000


class VirtualLink:
    """Reads and writes the virtual board's port; its time passes only while somebody reads.

    Args:
        board: the virtual board.
        paced: whether virtual time keeps to the wall clock, for people; otherwise it jumps, for programs.
        sleep: how to wait, given seconds.
    """

    name = "virtual"

    def __init__(self, board: VirtualBoard, paced: bool = False, sleep: Callable[[float], None] = time.sleep) -> None:
        self._board = board
        self._paced = paced
        self._sleep = sleep
        self._offset_us = board.now_us - _wall_us()
        self._closed = False
        board.port.host_open()

    def read(self, timeout_s: float) -> bytes:
        """See ``Link.read``; in virtual time the timeout is virtual too."""
        self._see_that_it_is_open()
        board = self._board
        until_us = (self._wall_now_us() if self._paced else board.now_us) + round(timeout_s * 1e6)
        if self._paced:
            board.run_until(max(board.now_us, self._wall_now_us()))
        while True:
            data = board.port.host_read()
            if data or board.now_us >= until_us:
                return data
            due_us = board.due_us()
            next_us = until_us if due_us is None else min(max(due_us, board.now_us), until_us)
            if self._paced:
                next_us = min(next_us, board.now_us + _NAP_US)
                ahead_us = next_us - self._wall_now_us()
                if ahead_us > 0:
                    self._sleep(ahead_us / 1e6)
            board.run_until(next_us)

    def write(self, data: bytes) -> None:
        """See ``Link.write``."""
        self._see_that_it_is_open()
        if self._paced:
            self._board.run_until(max(self._board.now_us, self._wall_now_us()))
        self._board.port.host_write(data)
        self._board.run_until(self._board.now_us)

    def close(self) -> None:
        """See ``Link.close``."""
        if self._closed:
            return
        self._closed = True
        self._board.port.host_close()
        self._board.run_until(self._board.now_us)

    def _see_that_it_is_open(self) -> None:
        if self._closed:
            raise LinkLost(f"{self.name}: the link is closed; open it again")

    def _wall_now_us(self) -> int:
        return _wall_us() + self._offset_us


def _wall_us() -> int:
    return time.monotonic_ns() // 1000
