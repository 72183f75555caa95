"""An evening at the bench as the host's port heard it: the bytes of a real board loop, and what it really did."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from handtick.events import Event
from handtick.links.virtual import VirtualLink
from handtick.log import LogReader, LogWriter
from handtick.recorder import Recorder
from handtick.session import Session
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import RAIN_TALLY


@dataclass
class Evening:
    """What the board said, in greetings and between them, and how many ticks it made.

    Attributes:
        opening: the first greeting and its answer.
        middle: everything said in between.
        closing: a last greeting, at rest, with its answer.
        ticks: last tick of each reset, in order.
        edges: active edges since the start.
    """

    opening: bytes
    middle: bytes
    closing: bytes
    ticks: list[int]
    edges: int

    @property
    def stream(self) -> bytes:
        """All of it."""
        return self.opening + self.middle + self.closing


def evening() -> Evening:
    """Larch reset, stepped, pressed, run to its halt, reset again and stepped a little."""
    board = VirtualBoard(Larch(RAIN_TALLY))
    link = VirtualLink(board)
    session = Session(1)

    def ask(kind: str, *values: int | str) -> bytes:
        _command_id, line = session.command(kind, *values)
        link.write(line)
        return listen()

    def listen() -> bytes:
        said = b""
        while data := link.read(1.0):
            said += data
        return said

    def greet(nonce: int) -> bytes:
        _command_id, line = session.command("hello", nonce)
        link.write(line)
        return listen()

    opening = greet(1)
    middle = ask("step", 3) + ask("reset") + ask("step", 5) + ask("half") + ask("half")
    board.press([(0, 1), (180, 0), (300, 1), (50_000, 0)], board.now_us)
    middle += listen() + ask("to", 40, "200") + ask("run", "500") + ask("status")
    halted = board.board.clock.tick
    middle += ask("reset") + ask("burst", 9, "100")
    return Evening(opening, middle, greet(1), [5, halted + 2, 9], board.board.clock.edges)


def logged(path: Path, pieces: list[bytes]) -> list[Event]:
    """Logs what these pieces tell into a new file; returns the events."""
    session = Session(1)
    events = []
    with LogWriter.open(path, "virtual-bench", 0) as log:
        recorder = Recorder(log)
        for number, piece in enumerate(pieces):
            for event in session.receive(piece):
                events.append(event)
                recorder.take(event, number)
        recorder.stop("the host closed the connection", len(pieces))
    return events


def contents(path: Path) -> dict[str, list[object]]:
    """All a log holds, host times and row ids aside."""
    with LogReader.open(path) as log:
        return {
            "ticks": list(log.all_ticks()),
            "runs": [(run.boot, run.reset, run.first_tick, run.asked, run.last_tick, run.why) for run in log.runs()],
            "gaps": [(gap.boot, gap.reset, gap.first_tick, gap.last_tick, gap.why) for gap in log.gaps()],
            "unplaced": [(each.boot, each.reset, each.count) for each in log.unplaced()],
            "damage": [(each.raw, each.lines) for each in log.damage()],
            "conflicts": list(log.conflicts()),
            "greetings": [(each.boot, each.reset, each.tick, each.edges) for each in log.greetings()],
        }
