"""A clock without a board: the ticks of a log once more, for when the hardware fails in front of a class."""

from __future__ import annotations

import queue
import threading
import time
from pathlib import Path

from handtick.errors import HandtickError, LogError
from handtick.events import Answer, Gap, Greeting, ResetDone, State, Tick
from handtick.live.driver import Command, Told
from handtick.log import LogReader
from handtick.log import Tick as LoggedTick
from handtick_wire import reasons
from handtick_wire.messages import read_rate

_IDLE_S = 0.2
_FINEST_S = 0.01
_NOTHING: Command = ("halt", ())


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
        self._commands: queue.Queue[Command] = queue.Queue()
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
        asked = _NOTHING
        while not self._ended.is_set():
            try:
                with LogReader.open(self._path) as log:
                    self._told.take(Greeting(self._boot, self._reset, self._tick, self._edges, {"mode": "rest"}))
                    while not self._ended.is_set():
                        self._do(log, *asked)
                        asked = self._asked() or _NOTHING
            except HandtickError as error:
                self._say("rest", "", "0")
                self._told.lose(str(error))
                # Until somebody asks for something: what comes before the damage can be shown once more.
                asked = _NOTHING
                while asked[0] == "halt" and not self._ended.is_set():
                    asked = self._asked() or _NOTHING

    def _asked(self) -> Command | None:
        """What is asked for next; None where nothing is for a while."""
        try:
            return self._commands.get(timeout=_IDLE_S)
        except queue.Empty:
            return None

    def _do(self, log: LogReader, kind: str, values: tuple[int | str, ...]) -> None:
        if kind == "to" and int(values[0]) < self._tick:
            self._refuse(reasons.BEHIND)
        elif kind in ("step", "run", "to"):
            self._move(log, kind, values)
        elif kind == "reset":
            self._reset += 1
            last, self._tick = self._tick, 0
            self._told.take(ResetDone(self._boot, self._reset, last, self._edges))
        elif kind != "halt":
            self._refuse(reasons.UNKNOWN)

    def _move(self, log: LogReader, kind: str, values: tuple[int | str, ...]) -> None:
        """Ticks one after the other, until there are enough, the log ends, or something else is asked for.

        Where the log lacks ticks, the next one it has comes in their place, also where one of them was asked for.
        """
        last = self._tick + 1 if kind == "step" else int(values[0]) if kind == "to" else None
        rate = values[-1] if kind in ("run", "to") else "1000"
        every_s = 1000.0 / (read_rate(str(rate)) or 1000)
        self._say("moving", reasons.ASKED, str(rate))
        why = reasons.COUNT
        due_s = time.monotonic()
        rows = log.ticks(self._boot, self._reset_logged, self._tick + 1)
        while last is None or self._tick < last:
            row = next(rows, None)
            if row is None:
                why = ""
                self._told.say(f"the log ends at tick {self._tick}")
                break
            if not self._commands.empty() or self._ended.is_set():
                why = reasons.HALTED
                break
            self._show(row)
            due_s += every_s
            self._wait_until(due_s)
        self._say("rest", why, "0")

    def _show(self, row: LoggedTick) -> None:
        """One tick, and what is missing before it."""
        if row.tick > self._tick + 1:
            self._told.take(Gap(self._boot, self._reset, self._tick + 1, row.tick - 1, reasons.NOT_SAMPLED))
        self._edges += row.tick - self._tick
        self._tick = row.tick
        if row.early is not None and row.late is not None:
            self._told.take(Tick(self._boot, self._reset, row.tick, row.early, row.late, row.time_us, row.flags))

    def _refuse(self, why: str) -> None:
        self._told.take(Answer(0, "refused", why, self._tick, self._edges))

    def _wait_until(self, due_s: float) -> None:
        while self._commands.empty() and not self._ended.is_set():
            left_s = due_s - time.monotonic()
            if left_s <= 0:
                return
            self._ended.wait(min(left_s, _FINEST_S))

    def _say(self, mode: str, why: str, rate: str) -> None:
        self._told.take(State(self._boot, self._reset, self._tick, self._edges, mode, why, "", 0, rate))
