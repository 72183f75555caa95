"""A clock without a board: the ticks of a log once more, for when the hardware fails in front of a class."""

from __future__ import annotations

import queue
import threading
import time
from pathlib import Path

from handtick.errors import LogError
from handtick.events import Answer, Greeting, ResetDone, State, Tick
from handtick.live.driver import Told
from handtick.log import LogReader
from handtick_wire import reasons
from handtick_wire.messages import read_rate

_IDLE_S = 0.2
_FINEST_S = 0.01


class Replay:
    """Drives through the ticks of the last reset of a log, as ``handtick.live.driver.Driver`` drives a board.

    Args:
        path: the log.
        told: told of everything.

    Raises:
        LogError: the log can't be read, or has no tick.
    """

    def __init__(self, path: Path, told: Told) -> None:
        with LogReader.open(path) as log:
            key = log.last_key()
        if key is None:
            raise LogError(f"log {str(path)!r} has no tick to show")
        self._path = path
        self._boot, self._reset_logged = key[0], key[1]
        self._told = told
        self._commands: queue.Queue[tuple[str, tuple[int | str, ...]]] = queue.Queue()
        self._ended = threading.Event()
        self._thread = threading.Thread(target=self._work, name="handtick-replay")
        self._reset = self._tick = self._edges = 0

    def start(self) -> None:
        """Begins."""
        self._thread.start()

    def stop(self) -> None:
        """Ends."""
        self._ended.set()
        self._thread.join()

    def send(self, kind: str, *values: int | str) -> None:
        """Asks for ticks, a halt or a reset; anything else is refused."""
        self._commands.put((kind, values))

    def _work(self) -> None:
        with LogReader.open(self._path) as log:
            self._told.take(Greeting(self._boot, 0, 0, 0, {"mode": "rest"}))
            kind: str = "halt"
            values: tuple[int | str, ...] = ()
            while not self._ended.is_set():
                if kind in ("step", "run", "to"):
                    self._move(log, kind, values)
                elif kind == "reset":
                    self._reset += 1
                    last, self._tick = self._tick, 0
                    self._told.take(ResetDone(self._boot, self._reset, last, self._edges))
                elif kind != "halt":
                    self._told.take(Answer(0, "refused", reasons.UNKNOWN, self._tick, self._edges))
                try:
                    kind, values = self._commands.get(timeout=_IDLE_S)
                except queue.Empty:
                    kind = "halt"

    def _move(self, log: LogReader, kind: str, values: tuple[int | str, ...]) -> None:
        """Ticks one after the other, until there are enough, the log ends, or something else is asked for."""
        last = self._tick + 1 if kind == "step" else int(values[0]) if kind == "to" else None
        rate = values[-1] if kind in ("run", "to") else "1000"
        every_s = 1000.0 / (read_rate(str(rate)) or 1000)
        self._say("moving", reasons.ASKED, str(rate))
        why = reasons.COUNT
        due_s = time.monotonic()
        for row in log.ticks(self._boot, self._reset_logged, self._tick + 1):
            if last is not None and row.tick > last:
                break
            if not self._commands.empty() or self._ended.is_set():
                why = reasons.HALTED
                break
            self._tick = row.tick
            self._edges += 1
            if row.early is not None and row.late is not None:
                self._told.take(Tick(self._boot, self._reset, row.tick, row.early, row.late, row.time_us, row.flags))
            due_s += every_s
            self._wait_until(due_s)
        else:
            if self._tick != last:
                why = ""
                self._told.say(f"the log ends at tick {self._tick}")
        self._say("rest", why, "0")

    def _wait_until(self, due_s: float) -> None:
        while self._commands.empty() and not self._ended.is_set():
            left_s = due_s - time.monotonic()
            if left_s <= 0:
                return
            self._ended.wait(min(left_s, _FINEST_S))

    def _say(self, mode: str, why: str, rate: str) -> None:
        self._told.take(State(self._boot, self._reset, self._tick, self._edges, mode, why, "", 0, rate))
