"""A host for tests: asks a board things over a link and keeps all it hears."""

from __future__ import annotations

from handtick.events import Answer, Block, Event, Gap, Notice, ResetDone, State, Tick
from handtick.links.base import Link
from handtick.session import Session


class Hearing:
    """Greets at once; nothing it hears is thrown away.

    Attributes:
        events: everything heard, in order.
    """

    def __init__(self, link: Link, nonce: int = 1) -> None:
        self.events: list[Event] = []
        self.session = Session(nonce)
        self._link = link
        self._wait(self.send_line(*self.session.greet()))

    def ask(self, kind: str, *values: int | str) -> Answer:
        """Sends a command and waits for its answer."""
        return self._wait(self.send(kind, *values))

    def send(self, kind: str, *values: int | str) -> int:
        """Sends a command; returns its id."""
        return self.send_line(*self.session.command(kind, *values))

    def send_line(self, command_id: int, line: bytes) -> int:
        """Sends bytes; returns the id they were said to carry."""
        self._link.write(line)
        return command_id

    def listen(self, seconds: float = 0.0) -> None:
        """Takes what has arrived, and what does within so many seconds."""
        silent = 0
        while silent < 2:
            data = self._link.read(seconds)
            silent = 0 if data else silent + 1
            self._hear(data)

    def take(self) -> None:
        """Takes what has arrived by now."""
        self._hear(self._link.read(0))

    @property
    def ticks(self) -> list[Tick]:
        """All ticks heard."""
        return [event for event in self.events if isinstance(event, Tick)]

    @property
    def notices(self) -> list[Notice]:
        """All notices heard."""
        return [event for event in self.events if isinstance(event, Notice)]

    @property
    def states(self) -> list[State]:
        """All states heard."""
        return [event for event in self.events if isinstance(event, State)]

    @property
    def gaps(self) -> list[Gap]:
        """All gaps heard of or found."""
        return [event for event in self.events if isinstance(event, Gap)]

    @property
    def resets(self) -> list[ResetDone]:
        """All resets heard of."""
        return [event for event in self.events if isinstance(event, ResetDone)]

    def answers(self, command_id: int) -> list[Answer]:
        """All answers to a command."""
        return [event for event in self.events if isinstance(event, Answer) and event.command_id == command_id]

    def _hear(self, data: bytes) -> None:
        for event in self.session.receive(data):
            self.events += event.ticks() if isinstance(event, Block) else [event]

    def _wait(self, command_id: int) -> Answer:
        for _ in range(10_000):
            if self.answers(command_id):
                return self.answers(command_id)[0]
            self._hear(self._link.read(1.0))
        raise AssertionError(f"command {command_id} was never answered")
