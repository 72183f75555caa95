"""The Python API: a bench is one board with its machine; step it, run it, and have everything logged.

with Bench(link, recorder) as bench:
    for tick in bench.step(3):
        print(tick.tick, hex(tick.late))
"""

from __future__ import annotations

import secrets
import time
from collections.abc import Callable
from types import TracebackType
from typing import Self

from handtick.errors import LinkLost, NoBoard, Refused, StoppedEarly
from handtick.events import Answer, Event, Greeting, Half, Status, Tick
from handtick.links.base import Link
from handtick.recorder import Recorder
from handtick.session import Session
from handtick_wire import messages
from handtick_wire.described import sentence

GREETING_S = 3.0
SILENCE_S = 2.0
_READ_S = 0.25

Listener = Callable[[Event], None]


class Bench:
    """Drives one board over a link.

    Args:
        link: the link, open; the bench closes it.
        recorder: logs what is heard; None to log nothing.
        resume: (boot, reset, tick) of the last tick the log already has; None for none.
        listener: called with every event, after it is logged.

    Attributes:
        greeting: what the board said of itself; set by ``open``.
    """

    def __init__(
        self,
        link: Link,
        recorder: Recorder | None = None,
        resume: tuple[int, int, int] | None = None,
        listener: Listener | None = None,
    ) -> None:
        self.greeting: Greeting | None = None
        self._link = link
        self._recorder = recorder
        self._listener = listener
        self._session = Session(secrets.randbits(63), resume)
        self._answers: dict[int, Answer] = {}
        self._heard: list[Event] = []

    def open(self) -> Greeting:
        """Greets the board.

        Raises:
            NoBoard: nothing answered with a greeting in time, or it speaks another version of the wire.
        """
        command_id, line = self._session.greet()
        # The empty line ends whatever half-typed line the board may hold.
        self._link.write(b"\n" + line)
        waited_s = 0.0
        while command_id not in self._answers:
            began = time.monotonic()
            if not self._listen(_READ_S):
                waited_s += max(_READ_S, time.monotonic() - began)
            if waited_s >= GREETING_S:
                raise NoBoard(
                    f"{self._link.name}: nothing there answers as a handtick board; is it the data port, "
                    "and is handtick on the board?"
                )
        assert self.greeting is not None
        if self.greeting.fields["protocol"] != messages.PROTOCOL:
            raise NoBoard(
                f"{self._link.name}: the board speaks wire version {self.greeting.fields['protocol']}, this program "
                f"{messages.PROTOCOL}; put this program's firmware on the board"
            )
        return self.greeting

    def step(self, count: int = 1) -> list[Tick]:
        """Makes ``count`` ticks of fixed width and returns them.

        Raises:
            Refused: the board says no; no tick was made.
            StoppedEarly: the clock came to rest before the last of them.
            LinkLost: the board is gone.
        """
        return _ticks(self.ask("step", count))

    def half(self) -> Half | None:
        """Makes the next edge alone and returns what the probes hold after it. Raises as ``step``."""
        halves = [event for event in self.ask("half") if isinstance(event, Half)]
        return halves[-1] if halves else None

    def run(self, rate: str) -> None:
        """Lets the clock run at ``rate`` ticks a second, a decimal such as "2.5", until halted. Raises as ``step``."""
        self.ask("run", rate)

    def burst(self, count: int, rate: str) -> list[Tick]:
        """Makes ``count`` ticks at a rate and returns those whose records arrived. Raises as ``step``."""
        return _ticks(self.ask("burst", count, rate))

    def advance(self, tick: int, rate: str) -> list[Tick]:
        """Runs at a rate until the tick number is ``tick``; none at all if it is that already. Raises as ``step``."""
        return _ticks(self.ask("to", tick, rate))

    def halt(self) -> None:
        """Comes to rest at the next tick boundary, and returns once at rest."""
        self.ask("halt")

    def reset(self) -> None:
        """Resets the machine; the next tick is tick 1. Raises as ``step``."""
        self.ask("reset")

    def status(self) -> Status:
        """What the board says of itself now."""
        return next(event for event in reversed(self.ask("status")) if isinstance(event, Status))

    def ask(self, kind: str, *values: int | str) -> list[Event]:
        """Sends a command, waits until it is answered, and returns what was heard meanwhile.

        Raises:
            Refused, StoppedEarly, LinkLost: as ``step``.
        """
        self._heard = []
        command_id = self.send(kind, *values)
        answer = self._wait_for(command_id)
        if answer.kind == "refused":
            raise Refused(f"{kind}: refused: {sentence(answer.why)}")
        if answer.kind == "failed":
            raise StoppedEarly(f"{kind}: stopped at tick {answer.tick}: {sentence(answer.why)}")
        return self._heard

    def send(self, kind: str, *values: int | str) -> int:
        """Sends a command without waiting; returns the id its answer will carry."""
        command_id, line = self._session.command(kind, *values)
        self._link.write(line)
        return command_id

    def listen(self, seconds: float) -> list[Event]:
        """Waits up to ``seconds`` for something to arrive and returns what it told."""
        self._heard = []
        self._listen(seconds)
        return self._heard

    def listen_until(self, enough: Callable[[], bool], quiet_s: float) -> None:
        """Hands on what arrives until ``enough()`` is true.

        Raises:
            LinkLost: nothing arrived for ``quiet_s`` seconds.
        """
        silent_s = 0.0
        while not enough():
            silent_s = 0.0 if self.listen(_READ_S) else silent_s + _READ_S
            if silent_s >= quiet_s:
                raise LinkLost(f"{self._link.name}: nothing came from the board for {quiet_s:g} s")

    def close(self) -> None:
        """Says goodbye and closes the link; the clock comes to rest, unless the board's settings say otherwise."""
        try:
            if self.greeting is not None:
                self.ask("bye")
        except LinkLost:
            pass
        finally:
            self._link.close()
            if self._recorder is not None:
                self._recorder.stop("the host closed the connection", time.time_ns())

    def __enter__(self) -> Self:
        try:
            self.open()
        except BaseException:
            self._link.close()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        self.close()

    def _wait_for(self, command_id: int) -> Answer:
        asked_after = -1
        silent_s = 0.0
        while command_id not in self._answers:
            if self._listen(_READ_S):
                silent_s = 0.0
                continue
            silent_s += _READ_S
            if silent_s >= 2 * SILENCE_S:
                raise LinkLost(f"{self._link.name}: the board has stopped answering; is it still plugged in?")
            if silent_s >= SILENCE_S and asked_after < 0:
                # A slow clock is silent for long; a board that is there answers this at once.
                asked_after = self.send("status")
            if asked_after in self._answers:
                self._answers.pop(asked_after)
                asked_after = -1
        return self._answers.pop(command_id)

    def _listen(self, seconds: float) -> bool:
        data = self._link.read(seconds)
        for event in self._session.receive(data):
            if isinstance(event, Answer):
                self._answers[event.command_id] = event
            elif isinstance(event, Greeting):
                self.greeting = event
            if self._recorder is not None:
                self._recorder.take(event, time.time_ns())
            self._heard.append(event)
            if self._listener is not None:
                self._listener(event)
        return bool(data)


def _ticks(events: list[Event]) -> list[Tick]:
    return [event for event in events if isinstance(event, Tick)]
