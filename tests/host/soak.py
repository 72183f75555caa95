"""A long evening with a bad cable: the board's real loop and the real session, recorder and log, and everything that a
link can do to them in between."""

from __future__ import annotations

import random
from collections import Counter as Tally
from dataclasses import dataclass, field
from pathlib import Path

from handtick.events import Answer, Event, Greeting
from handtick.log import LogReader, LogWriter, check
from handtick.recorder import Recorder
from handtick.session import Session
from handtick.virtual.board import VirtualBoard
from handtick_board.settings import Settings
from tests.board.still_machine import Counter

NOW_NS = 1_764_000_000_000_000_000
_FAULTS = ("lost", "changed", "repeated", "held back", "torn off", "unplugged", "stalled")


@dataclass
class Account:
    """What came of it.

    Attributes:
        made: active edges on the clock line.
        logged: ticks in the log, each with the samples the machine showed.
        missing: ticks told to be missing, by number.
        unplaced: ticks told to be missing whose numbers nobody knows.
        wrong: ticks in the log whose samples are not what the machine showed.
        faults: what was done to the link, by kind.
        findings: what a check of the log says does not add up.
    """

    made: int
    logged: int
    missing: int
    unplaced: int
    wrong: int
    findings: list[str]
    faults: Tally[str] = field(default_factory=Tally)

    @property
    def adds_up(self) -> bool:
        """Whether every tick made is either logged, once, or told to be missing."""
        return self.made == self.logged + self.missing + self.unplaced

    def __str__(self) -> str:
        faults = ", ".join(f"{count} {kind}" for kind, count in sorted(self.faults.items()))
        return (
            f"{self.made:,} ticks made = {self.logged:,} logged + {self.missing:,} told missing + "
            f"{self.unplaced:,} told missing without numbers; {sum(self.faults.values()):,} faults: {faults}"
        )


class HeldInReset(Counter):
    """A machine that counts its clock, and stays at zero while it is in reset."""

    def __init__(self) -> None:
        super().__init__()
        self._in_reset = False

    def set_clock(self, level: bool) -> None:
        """Counts a rising edge."""
        if not self._in_reset:
            super().set_clock(level)

    def set_reset(self, asserted: bool) -> None:
        """Zeroes the count, and keeps it there."""
        self._in_reset = asserted
        super().set_reset(asserted)

    @staticmethod
    def showed(early: int, late: int, tick: int) -> bool:
        """Whether it can have shown these samples at a tick; reset makes either of them zero from its beginning on."""
        return (early, late) in ((tick - 1 & 0xFFFF, tick & 0xFFFF), (tick - 1 & 0xFFFF, 0), (0, 0))


class BadLink:
    """The cable: loses, changes, repeats and holds back bytes, both ways.

    Args:
        board: the board at its end.
        chance: chooses.
    """

    def __init__(self, board: VirtualBoard, chance: random.Random) -> None:
        self.faults: Tally[str] = Tally()
        self.bad = True
        self._board = board
        self._chance = chance
        self._held = b""

    def read(self) -> bytes:
        """What arrives of what the board said."""
        data = self._held + self._board.port.host_read()
        self._held = b""
        if not self.bad or not data:
            return data
        data = self._spoiled(data)
        if self._hits("held back", 0.02):
            at = self._chance.randrange(len(data) + 1)
            data, self._held = data[:at], data[at:]
        return data

    def write(self, data: bytes) -> None:
        """A command on its way to the board."""
        self._board.port.host_write(self._spoiled(data) if self.bad else data)

    def unplug(self) -> None:
        """The cable comes out and goes in again."""
        self.faults["unplugged"] += 1
        self._held = b""
        self._board.port.host_close()
        self._board.run_until(self._board.now_us + self._chance.randrange(5000))
        self._board.port.host_open()

    def _hits(self, kind: str, share: float) -> bool:
        hit = self._chance.random() < share
        self.faults[kind] += hit
        return hit

    def _spoiled(self, data: bytes) -> bytes:
        chance = self._chance
        at = chance.randrange(len(data))
        length = min(chance.choice([1, 1, 2, 7, 60, 900]), len(data) - at)
        if self._hits("lost", 0.06):
            return data[:at] + data[at + length :]
        if self._hits("changed", 0.06):
            return data[:at] + bytes([data[at] ^ chance.randrange(1, 256)]) + data[at + 1 :]
        if self._hits("repeated", 0.06):
            return data[: at + length] + data[at : at + length] + data[at + length :]
        if self._hits("torn off", 0.03):
            return data[:at]
        return data


class Soak:
    """One evening.

    Args:
        path: the log.
        seed: chooses everything.
    """

    def __init__(self, path: Path, seed: int) -> None:
        self._chance = random.Random(seed)
        settings = Settings()
        settings.when_full = self._chance.choice(["pause", "free"])
        settings.ring = self._chance.choice([64, 512, 4096])
        self._board = VirtualBoard(HeldInReset(), settings)
        self._link = BadLink(self._board, self._chance)
        self._session = Session(self._chance.getrandbits(60))
        self._log = LogWriter.open(path, "virtual-bench", NOW_NS)
        self._recorder = Recorder(self._log)
        self._path = path
        self._answered: set[int] = set()
        self._greeted = False
        self._board.port.host_open()

    def run(self, ticks: int, faults: int) -> Account:
        """Goes on until so many ticks were made and so many faults happened, then mends the cable and settles."""
        while self._board.board.clock.edges < ticks or sum(self._link.faults.values()) < faults:
            self._something()
        self._link.bad = False
        self._settle()
        self._log.close()
        return self._account()

    def _something(self) -> None:
        chance = self._chance
        if not self._greeted or chance.random() < 0.02:
            self._send(*self._session.greet())
        kind, *values = chance.choice(
            [
                ("step", chance.randrange(1, 9)),
                ("burst", chance.randrange(1, 400), chance.choice(["500", "20000", "100000"])),
                ("to", self._board.board.clock.tick + chance.randrange(1, 300), "50000"),
                ("run", chance.choice(["1000", "30000"])),
                ("halt",),
                ("half",),
                ("rate", "10000"),
                ("reset",) if chance.random() < 0.2 else ("status",),
                ("samples", chance.choice(["all", "auto", "last"])),
            ]
        )
        self._send(*self._session.command(kind, *values))
        for _ in range(chance.randrange(1, 5)):
            self._board.run_until(self._board.now_us + chance.choice([0, 300, 3000, 12_000]))
            self._hear()
        if chance.random() < 0.01:
            self._link.faults["stalled"] += 1
            self._board.run_until(self._board.now_us + 150_000)
        if chance.random() < 0.01:
            self._link.unplug()
            self._greeted = False
            self._take(self._session.disconnected())

    def _send(self, command_id: int, line: bytes) -> None:
        self._link.write(b"\n" + line)
        self._board.run_until(self._board.now_us)

    def _hear(self) -> None:
        self._take(self._session.receive(self._link.read()))

    def _take(self, events: list[Event]) -> None:
        for event in events:
            self._greeted = self._greeted or isinstance(event, Greeting)
            if isinstance(event, Answer):
                self._answered.add(event.command_id)
            self._recorder.take(event, NOW_NS)

    def _settle(self) -> None:
        """Halts, hears everything, and greets once more, so that the account is closed."""
        for kind in ("greet", "halt", "greet"):
            command_id, line = self._session.greet() if kind == "greet" else self._session.command(kind)
            self._send(command_id, line)
            while command_id not in self._answered or not self._board.board.outbox.idle:
                self._board.run_until(self._board.now_us + 1000)
                self._hear()
        self._recorder.stop("the evening is over", NOW_NS)

    def _account(self) -> Account:
        with LogReader.open(self._path) as log:
            logged = wrong = 0
            for tick in log.all_ticks():
                logged += 1
                wrong += not HeldInReset.showed(tick.early or 0, tick.late or 0, tick.tick)
            missing = sum(gap.last_tick - gap.first_tick + 1 for gap in log.gaps())
            unplaced = sum(each.count for each in log.unplaced())
        findings: list[str] = []
        dropped = False
        for finding in check(self._path):
            # Bytes that were no line are what a bad cable leaves; they are kept in the log, and told.
            dropped = "that are no line" in finding.text or (dropped and finding.text.startswith("... and"))
            if finding.kind == "wrong" and not dropped:
                findings.append(finding.text)
        made = self._board.line.changes // 2
        return Account(made, logged, missing, unplaced, wrong, findings, self._link.faults)
