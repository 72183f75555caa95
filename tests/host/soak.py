"""A long evening with a bad cable: the board's real loop and the real session, recorder and log, everything that a link
can do to them in between, and programs that end in the middle of it and are begun again."""

from __future__ import annotations

import random
from collections import Counter as Tally
from dataclasses import dataclass, field
from itertools import pairwise
from pathlib import Path

from handtick.events import Answer, Event, Greeting
from handtick.log import LogReader, LogWriter
from handtick.log.check import check
from handtick.opening import last_accounted
from handtick.recorder import Recorder
from handtick.session import Session
from handtick.virtual.board import VirtualBoard
from handtick_board.settings import Settings
from tests.board.still_machine import StillMachine

BEGAN_NS = 1_764_000_000_000_000_000
BOARD_ID = "virtual-bench"
# How many bytes a link can bring a second time, and how long the board is given to be done with everything.
_MEMORY = 6000
_PATIENCE_US = 120_000_000


@dataclass
class Account:
    """What came of it.

    Attributes:
        made: active edges on the clock line.
        logged: ticks in the log.
        missing: ticks told to be missing, by number.
        unplaced: ticks told to be missing whose numbers nobody knows.
        damaged: places where bytes came that were no line, or lines did not come.
        boots, resets: starts of the board, and resets of its machine.
        wrong: what is not as it was: samples, ticks told twice, more told of a reset than it had, and whatever a check
            of the log finds.
        faults: what was done to the link, by kind.
    """

    made: int = 0
    logged: int = 0
    missing: int = 0
    unplaced: int = 0
    damaged: int = 0
    boots: int = 0
    resets: int = 0
    wrong: list[str] = field(default_factory=list)
    faults: Tally[str] = field(default_factory=Tally)

    def __str__(self) -> str:
        faults = ", ".join(f"{count:,} {kind}" for kind, count in sorted(self.faults.items()))
        return (
            f"{self.made:,} ticks made in {self.boots} starts and {self.resets:,} resets = {self.logged:,} logged + "
            f"{self.missing:,} told missing + {self.unplaced:,} told missing without numbers; damage told at "
            f"{self.damaged:,} places; {self.faults.total():,} faults: {faults}; {len(self.wrong)} wrong"
        )


class EdgeCounter(StillMachine):
    """A machine that shows how many rising edges it ever had, so that no two ticks near each other look alike.

    Attributes:
        edges: rising edges so far.
        zeros: rising edges at the zero of each reset.
    """

    def __init__(self) -> None:
        self.edges = 0
        self.zeros = [0]

    def set_clock(self, level: bool) -> None:
        """Counts a rising edge."""
        self.edges += level

    def set_reset(self, asserted: bool) -> None:
        """Notes where a reset ends."""
        if not asserted:
            self.zeros.append(self.edges)

    def probes(self) -> int:
        """The count's lower sixteen bits."""
        return self.edges & 0xFFFF

    def ticks_of_resets(self) -> list[int]:
        """How many ticks each reset number had."""
        return [after - before for before, after in pairwise([*self.zeros, self.edges])]


class BadLink:
    """The cable: loses, changes, repeats and holds back bytes, both ways.

    Args:
        board: the board at its end.
        chance: chooses.
        faults: takes what was done, by kind.
    """

    def __init__(self, board: VirtualBoard, chance: random.Random, faults: Tally[str]) -> None:
        self.bad = True
        self._board = board
        self._chance = chance
        self._faults = faults
        self._held = self._past = b""

    def read(self) -> bytes:
        """What arrives of what the board said."""
        said = self._board.port.host_read()
        data = self._held + (self._spoiled(said, self._past) if self.bad and said else said)
        self._past = (self._past + said)[-_MEMORY:]
        self._held = b""
        if self.bad and data and self._hits("held back", 0.02):
            at = self._chance.randrange(len(data) + 1)
            data, self._held = data[:at], data[at:]
        return data

    def write(self, data: bytes) -> None:
        """A command on its way to the board."""
        self._board.port.host_write(self._spoiled(data, data) if self.bad else data)

    def unplug(self) -> None:
        """Nothing more comes of what was on its way."""
        self._held = self._past = b""
        self._board.port.host_close()

    def _hits(self, kind: str, share: float) -> bool:
        hit = self._chance.random() < share
        self._faults[kind] += hit
        return hit

    def _spoiled(self, data: bytes, past: bytes) -> bytes:
        chance = self._chance
        at = chance.randrange(len(data))
        length = min(chance.choice([1, 1, 2, 7, 60, 900]), len(data) - at)
        if self._hits("lost", 0.06):
            return data[:at] + data[at + length :]
        if self._hits("changed", 0.06):
            return data[:at] + bytes([data[at] ^ chance.randrange(1, 256)]) + data[at + 1 :]
        if self._hits("repeated", 0.06):
            return data[:at] + (past + data[:at])[-chance.choice([1, 60, 900, _MEMORY]) :] + data[at:]
        if self._hits("torn off", 0.03):
            return data[:at]
        return data


class Soak:
    """One evening: start after start of the board, program after program, one log.

    Args:
        path: the log.
        seed: chooses everything.
    """

    def __init__(self, path: Path, seed: int) -> None:
        self._chance = random.Random(seed)
        self._path = path
        self._account = Account()
        self._boot = 0
        self._before_us = 0
        self._answered: set[int] = set()

    def run(self, boots: int, ticks: int, faults: int) -> Account:
        """Goes on for so many starts of the board, with at least so many ticks and so many faults each."""
        for boot in range(1, boots + 1):
            self._start_board()
            while self._machine.edges < ticks or self._account.faults.total() < boot * faults:
                self._something()
            self._settle()
            self._count()
        self._end_program("the evening is over")
        self._check()
        return self._account

    # The board.

    def _start_board(self) -> None:
        """The supply comes on; a program that listened before may go on with the same conversation, or a new one comes
        before the clock is first moved."""
        settings = Settings()
        settings.when_full = self._chance.choice(["pause", "free"])
        settings.when_host_gone = self._chance.choice(["rest", "run"])
        settings.ring = self._chance.choice([64, 512, 4096])
        survives = self._boot > 0 and self._chance.random() < 0.5
        if self._boot and not survives:
            self._end_program("the host closed the connection")
        self._boot += 1
        self._before_us = self._now_us() if self._boot > 1 else 0
        self._machine = EdgeCounter()
        self._board = VirtualBoard(self._machine, settings, boot=self._boot)
        self._link = BadLink(self._board, self._chance, self._account.faults)
        if survives:
            self._take(self._session.disconnected())
            self._plug_in()
        else:
            self._begin_program()

    def _something(self) -> None:
        chance = self._chance
        if not self._greeted or chance.random() < 0.02:
            self._send(*self._session.greet())
        kind, *values = chance.choice(
            [
                ("step", chance.randrange(1, 9)),
                ("burst", chance.randrange(1, 400), chance.choice(["500", "5000", "40000"])),
                ("to", self._board.board.clock.tick + chance.randrange(1, 300), "20000"),
                ("run", chance.choice(["500", "3000"])),
                ("halt",),
                ("half",),
                ("rate", "2000"),
                ("reset",) if chance.random() < 0.2 else ("status",),
                ("samples", chance.choice(["all", "auto", "last"])),
            ]
        )
        self._send(*self._session.command(kind, *values))
        for _ in range(chance.randrange(1, 5)):
            self._pass(chance.choice([0, 300, 3000, 12_000]))
            self._hear()
        happens = chance.random()
        if happens < 0.01:
            self._account.faults["stalled"] += 1
            self._pass(chance.choice([150_000, 600_000]))
        elif happens < 0.03:
            self._account.faults["unplugged"] += 1
            self._link.unplug()
            self._take(self._session.disconnected())
            self._by_hand()
            self._plug_in()
        elif happens < 0.05:
            self._account.faults["program ended"] += 1
            self._end_program("the host closed the connection")
            self._by_hand()
            self._begin_program()
        elif happens < 0.07:
            self._account.faults["program killed"] += 1
            self._kill_program()
            self._by_hand()
            self._begin_program()

    def _by_hand(self) -> None:
        """What somebody does at the bench while no program listens."""
        chance = self._chance
        conductor = self._board.board.conductor
        for _ in range(chance.choice([0, 0, 1, 3, 5])):
            kind = chance.choice(["press", "run", "reset"])
            if kind == "press":
                self._board.press([(0, 1), (180, 0), (300, 1), (30_000, 0)], self._board.now_us)
                self._pass(60_000)
            elif kind == "run":
                conductor.run_or_halt()
            else:
                self._account.faults["reset unheard"] += 1
                conductor.reset()
            self._pass(chance.randrange(20_000))
        if chance.random() < 0.01:
            # More resets than the board keeps reports of.
            for _ in range(120):
                self._account.faults["reset unheard"] += 1
                conductor.reset()
                self._pass(10_000)
        self._pass(chance.randrange(5000))

    def _pass(self, span_us: int) -> None:
        self._board.run_until(self._board.now_us + span_us)

    def _now_us(self) -> int:
        return self._before_us + self._board.now_us

    def _now_ns(self) -> int:
        return BEGAN_NS + self._now_us() * 1000

    # The program.

    def _begin_program(self) -> None:
        """A program goes on with the log there is."""
        self._session = Session(
            self._chance.getrandbits(60), last_accounted(self._path), 1 + self._chance.getrandbits(31)
        )
        self._log = LogWriter.open(self._path, BOARD_ID, self._now_ns())
        # Programs are killed here, the computer is not: no need to wait for the disk at every commit.
        self._log._connection.execute("PRAGMA synchronous = OFF")
        self._recorder = Recorder(self._log)
        self._plug_in()

    def _plug_in(self) -> None:
        """The port is open, and the board greeted."""
        self._greeted = False
        self._board.port.host_open()
        for _ in range(200):
            self._send(*self._session.greet())
            self._pass(3000)
            self._hear()
            if self._greeted:
                return
        raise AssertionError(f"boot {self._boot}: no greeting was answered")

    def _end_program(self, why: str) -> None:
        """The program ends in whatever is under way."""
        self._link.unplug()
        self._take(self._session.disconnected())
        self._recorder.stop(why, self._now_ns())
        self._log.close()

    def _kill_program(self) -> None:
        """The program is gone at once: what it had not committed is in no log, and nothing that it held is held."""
        self._link.unplug()
        self._log._connection.close()
        self._log._lock.release()

    def _send(self, command_id: int, line: bytes) -> None:
        self._link.write(b"\n" + line)
        self._pass(0)

    def _hear(self) -> None:
        self._take(self._session.receive(self._link.read()))

    def _take(self, events: list[Event]) -> None:
        for event in events:
            self._greeted = self._greeted or isinstance(event, Greeting)
            if isinstance(event, Answer):
                self._answered.add(event.command_id)
            self._recorder.take(event, self._now_ns())

    def _settle(self) -> None:
        """The cable is mended: the clock is halted, everything that waits is heard, and one more greeting closes the
        account."""
        self._link.bad = False
        for kind in ("hello", "halt", "half", "hello"):
            if kind == "half" and self._board.board.conductor.mode != "held":
                continue
            command_id, line = self._session.greet() if kind == "hello" else self._session.command(kind)
            self._ask(command_id, line)

    def _ask(self, command_id: int, line: bytes) -> None:
        """Asks, again and again in the same words, until it is answered and nothing waits: behind a block that was cut
        short the first answers are taken for the rest of it, until it is long enough to be seen for what it is."""
        until_us = self._board.now_us + _PATIENCE_US
        while command_id not in self._answered or not self._board.board.outbox.idle:
            assert self._board.now_us < until_us, f"boot {self._boot}: {line!r} was never answered"
            if command_id not in self._answered:
                self._send(command_id, line)
            for _ in range(100):
                self._pass(1000)
                self._hear()

    # The account.

    def _count(self) -> None:
        """Holds what the log says of this start of the board against what its clock line did."""
        self._log.commit(self._now_ns())
        account, boot = self._account, self._boot
        account.boots += 1
        account.made += self._machine.edges
        account.resets += len(self._machine.zeros) - 1
        with LogReader.open(self._path) as log:
            gaps = [gap for gap in log.gaps() if gap.boot == boot]
            unplaced = [(each.reset, each.count) for each in log.unplaced() if each.boot == boot]
            account.damaged += sum(each.boot == boot for each in log.damage())
            untold = []
            for reset, made in enumerate(self._machine.ticks_of_resets()):
                spans = [(gap.first_tick, gap.last_tick) for gap in gaps if gap.reset == reset]
                missed = [number for first, last in spans for number in range(first, last + 1)]
                logged = self._logged(log, reset)
                told = set(missed) | set(logged)
                if len(told) < len(missed) + len(logged):
                    account.wrong.append(f"boot {boot}, reset {reset}: ticks told twice")
                if told and not 1 <= min(told) <= max(told) <= made:
                    account.wrong.append(f"boot {boot}, reset {reset}: {made} ticks made, told {min(told)}-{max(told)}")
                account.logged += len(logged)
                account.missing += len(missed)
                untold.append(made - len(told))
        account.unplaced += sum(count for _, count in unplaced)
        self._place(untold, unplaced)

    def _logged(self, log: LogReader, reset: int) -> list[int]:
        """Numbers of the ticks in the log, each held against what the machine showed."""
        numbers = []
        for tick in log.ticks(self._boot, reset):
            numbers.append(tick.tick)
            before = self._machine.zeros[reset] + tick.tick - 1
            if (tick.early, tick.late) != (before & 0xFFFF, before + 1 & 0xFFFF):
                self._account.wrong.append(f"{tick} is not what the machine showed")
        return numbers

    def _place(self, untold: list[int], unplaced: list[tuple[int, int]]) -> None:
        """Ticks whose numbers nobody knows are told before a reset: all that no other row tells of must have been made
        before that, and nothing else may be left."""
        for reset in sorted({reset for reset, _ in unplaced} | {len(untold)}):
            made = sum(untold[:reset])
            told = sum(count for before, count in unplaced if before <= reset)
            if told > made or (reset == len(untold) and told != made):
                self._account.wrong.append(
                    f"boot {self._boot}, before reset {reset}: {made} ticks in no row, {told} told without a number"
                )

    def _check(self) -> None:
        damage = False
        for finding in check(self._path):
            # Bytes that were no line are what a bad cable leaves; they are kept in the log, and told.
            damage = "that are no line" in finding.text or (damage and finding.text.startswith("... and"))
            if finding.kind == "wrong" and not damage:
                self._account.wrong.append(finding.text)
