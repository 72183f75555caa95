"""A virtual board served in this process, for tests that reach it as they would reach hardware."""

from __future__ import annotations

import contextlib
import threading
from collections.abc import Iterator

from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY
from handtick.virtual.server import Serving


@contextlib.contextmanager
def served(board: VirtualBoard | None = None) -> Iterator[Serving]:
    """Serves a board at a pseudo-terminal and a TCP port while the block runs."""
    serving = Serving(board or VirtualBoard(Larch(RAIN_TALLY)), 0)
    ended = threading.Event()

    def work() -> None:
        while not ended.is_set():
            serving.serve_once(0.005)

    worker = threading.Thread(target=work)
    worker.start()
    try:
        yield serving
    finally:
        ended.set()
        worker.join()
        serving.close()
