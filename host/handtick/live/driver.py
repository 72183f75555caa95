"""Drives a bench in a thread of its own: commands in, events out, and back when the board is."""

from __future__ import annotations

import contextlib
import queue
import threading
from collections.abc import Callable
from pathlib import Path
from typing import Protocol

from handtick.bench import Bench
from handtick.errors import HandtickError, LinkLost, LogError
from handtick.events import Event

_LISTEN_S = 0.02
_AGAIN_S = 1.0
# What still has a meaning for a board that was gone in between.
_NEVER_STALE = ("halt", "note")

#: A command as the wire has it: its kind and its fields.
Command = tuple[str, tuple[int | str, ...]]


class Told(Protocol):
    """Who is told of everything, in the driver's thread."""

    def take(self, event: Event) -> None:
        """Something happened."""
        ...

    def lose(self, message: str) -> None:
        """The board is gone."""
        ...

    def say(self, message: str) -> None:
        """Something is to be said to the user."""
        ...


class Driver:
    """The way to the bench.

    Args:
        state: told of everything.
        open_bench: opens the bench, with its log; called again after the board was lost.

    Attributes:
        failed: what the log could not take to its end, and is lost; None where there is nothing of that kind.
    """

    def __init__(self, state: Told, open_bench: Callable[[], Bench]) -> None:
        self._state = state
        self._open_bench = open_bench
        self._commands: queue.Queue[Command] = queue.Queue()
        self._ended = threading.Event()
        self.failed: LogError | None = None
        # The log that was written last.
        self._log: Path | None = None
        self._thread = threading.Thread(target=self._work, name="handtick-driver")

    def start(self) -> None:
        """Begins."""
        self._thread.start()

    def stop(self) -> None:
        """Ends, says goodbye to the board and closes the log; returns when that is done."""
        self._ended.set()
        self._thread.join()

    def send(self, kind: str, *values: int | str) -> None:
        """Asks the board for something, whose answer comes as an event. A "note" goes into the log: its text, and the
        reset and number of its tick, or nothing more for the present one.

        What is asked for while there is no board is not done once there is one, but for halts and notes.
        """
        self._commands.put((kind, values))

    def _work(self) -> None:
        try:
            while not self._ended.is_set():
                bench = self._open()
                if bench is None:
                    self._ended.wait(_AGAIN_S)
                else:
                    self._use(bench)
        except Exception as error:
            self._state.lose(f"an error of handtick's own: {type(error).__name__}: {error}")
            raise

    def _open(self) -> Bench | None:
        """Opens the bench; says why where that fails."""
        if self._log is not None and not self._log.exists():
            # A new one under its name would pass for the whole.
            self._state.lose(
                f"log {str(self._log)!r} was moved or removed while in use; put it back, or start anew for a new log"
            )
            return None
        try:
            bench = self._open_bench()
        except HandtickError as error:
            self._state.lose(str(error))
            return None
        self._log = bench.log_path
        return bench

    def _use(self, bench: Bench) -> None:
        try:
            self._drive(bench)
        except LinkLost as error:
            self._state.lose(str(error))
        except HandtickError as error:
            self._state.say(str(error))
        finally:
            self._close(bench)

    def _close(self, bench: Bench) -> None:
        try:
            bench.close()
        except LogError as error:
            self.failed = error
            self._state.say(str(error))
        except HandtickError as error:
            self._state.say(str(error))

    def _drive(self, bench: Bench) -> None:
        bench.also(self._state.take)
        assert bench.greeting is not None
        self._forget_the_stale()
        self._state.take(bench.greeting)
        bench.send("status")
        while not self._ended.is_set():
            behind = bench.log_is_behind
            try:
                with contextlib.suppress(queue.Empty):
                    while True:
                        self._do(bench, self._commands.get_nowait())
                bench.listen(_LISTEN_S)
            except LogError as error:
                # What came waits for the next commit; the clock, and whoever drives it, need not.
                self._state.say(str(error))
            if behind and not bench.log_is_behind:
                self._state.say("the log is written again; nothing is lost")

    def _do(self, bench: Bench, command: Command) -> None:
        kind, values = command
        try:
            if kind == "note":
                text, *place = values
                bench.note(str(text), (int(place[0]), int(place[1])) if place else None)
                self._state.say(f"noted at tick {place[1] if place else bench.tick}")
            else:
                bench.send(kind, *values)
        except LinkLost:
            if kind in _NEVER_STALE:
                # For when the board is back.
                self._commands.put(command)
            raise

    def _forget_the_stale(self) -> None:
        for _ in range(self._commands.qsize()):
            command = self._commands.get()
            if command[0] in _NEVER_STALE:
                self._commands.put(command)
