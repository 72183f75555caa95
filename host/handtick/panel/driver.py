"""Drives the bench for the panel in a thread of its own: commands in, events out, and back when the board is."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable

from handtick.bench import Bench
from handtick.errors import HandtickError, LinkLost
from handtick.panel.state import PanelState

_LISTEN_S = 0.02
_AGAIN_S = 1.0

#: A command as the wire has it: its kind and its fields.
Command = tuple[str, tuple[int | str, ...]]


class Driver:
    """The panel's way to the bench.

    Args:
        state: told of everything.
        open_bench: opens the bench, with its log; called again after the board was lost.
    """

    def __init__(self, state: PanelState, open_bench: Callable[[], Bench]) -> None:
        self._state = state
        self._open_bench = open_bench
        self._commands: queue.Queue[Command] = queue.Queue()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._work, name="handtick-panel")

    def start(self) -> None:
        """Begins."""
        self._thread.start()

    def stop(self) -> None:
        """Ends, says goodbye to the board and closes the log; returns when that is done."""
        self._ended.set()
        self._thread.join()

    def send(self, kind: str, *values: int | str) -> None:
        """Asks the board for something, whose answer comes as an event; a "note" goes into the log."""
        self._commands.put((kind, values))

    def _work(self) -> None:
        while not self._ended.is_set():
            try:
                bench = self._open_bench()
            except HandtickError as error:
                self._state.lose(str(error))
                self._ended.wait(_AGAIN_S)
                continue
            try:
                self._drive(bench)
            except LinkLost as error:
                self._state.lose(str(error))
            except HandtickError as error:
                self._state.say(str(error))
            finally:
                with contextlib.suppress(HandtickError):
                    bench.close()

    def _drive(self, bench: Bench) -> None:
        bench.also(self._state.take)
        assert bench.greeting is not None
        self._state.take(bench.greeting)
        bench.send("status")
        while not self._ended.is_set():
            with contextlib.suppress(queue.Empty):
                while True:
                    kind, values = self._commands.get_nowait()
                    if kind == "note":
                        bench.note(str(values[0]))
                        self._state.say(f"noted at tick {bench.tick}")
                    else:
                        bench.send(kind, *values)
            bench.listen(_LISTEN_S)
