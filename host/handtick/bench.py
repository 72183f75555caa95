"""The Python API: a bench is one board with its machine; step it, run it, and have everything logged.

with handtick.open_bench(board="virtual") as bench:
    bench.reset()
    for tick in bench.step(3):
        print(tick.tick, bench.read(tick))
"""

from __future__ import annotations

import time
from collections import deque
from collections.abc import Callable
from pathlib import Path
from types import TracebackType
from typing import Self

from handtick.errors import HandtickError, LinkLost, LogError, NoBoard, Refused, StoppedEarly, UsageError
from handtick.events import Answer, Block, Cycle, Damage, Event, Greeting, Half, ResetDone, State, Status, Tick
from handtick.fresh import fresh_number
from handtick.links.base import Link
from handtick.place import Place
from handtick.recorder import Recorder
from handtick.session import Session
from handtick.uninterrupted import uninterrupted
from handtick.waiting import AGAIN, SILENT, UNANSWERED, WHO, Waiting
from handtick.wiring import Wiring
from handtick_wire import messages, reasons
from handtick_wire.described import sentence
from handtick_wire.version import __version__

GREETING_S = 3.0
_READ_S = 0.25

Listener = Callable[[Event], None]


class Bench:
    """Drives one board over a link.

    Args:
        link: the link, open; the bench closes it.
        recorder: logs what is heard; None to log nothing.
        resume: how far the log accounts for the ticks already; None where it does not.
        listener: called with every event, after it is logged.
        wiring: what the probes are called; None for bare probes.
        earlier: how far the log accounts for the ticks of another start of the board than ``resume`` is of.
        clock: seconds that only go up, as ``time.monotonic``.

    Attributes:
        greeting: what the board said of itself; set by ``open``.
        wiring: what the probes are called.
        reset_number: resets since the board's start, as last told.
        tick: the tick number, as last told.
        edges: the edge count, as last told.
        rate: the rate that the clock gave last, in hertz as the wire writes it; "0" where it was at none.
    """

    def __init__(
        self,
        link: Link,
        recorder: Recorder | None = None,
        resume: Place | None = None,
        listener: Listener | None = None,
        wiring: Wiring | None = None,
        earlier: Callable[[int], Place | None] | None = None,
        clock: Callable[[], float] = time.monotonic,
    ) -> None:
        self.greeting: Greeting | None = None
        self.wiring = wiring or Wiring()
        self._link = link
        self._recorder = recorder
        self._clock = clock
        self.reset_number = self.tick = self.edges = 0
        self.rate = "0"
        self._listeners = [listener] if listener is not None else []
        # Ids that no earlier conversation had: an answer that was left over from one is not taken for ours.
        self._session = Session(fresh_number(63), resume, 1 + fresh_number(31), earlier)
        # Of the commands that are waited for: their answers, once there.
        self._answers: dict[int, Answer | None] = {}
        self._heard: list[Event] = []
        self._keeps = True
        # Taken in, and not yet told to whoever listens.
        self._untold: deque[Event] = deque()
        # What a log that is given after the greeting is still to have; None once there can be none.
        self._unlogged: list[tuple[Event, int]] | None = []
        self._close_log: Callable[[], None] = _nothing
        self._lost = self._closing = False

    def open(self, patience_s: float = GREETING_S) -> Greeting:
        """Greets the board; one that is open already is not greeted again.

        Raises:
            NoBoard: nothing answered with a greeting in time, or it speaks another version of the wire.
        """
        if self.greeting is not None:
            return self.greeting
        command_id, line = self._session.greet()
        self._answers[command_id] = None
        # The empty line ends whatever half-typed line the board may hold.
        self._write(b"\n" + line)
        began_s, quiet_s, again = self._clock(), 0.0, False
        while self.greeting is None:
            came, took_s = self._look()
            quiet_s += took_s if came is None else 0.0
            # What chatters and never greets is no board either.
            if quiet_s >= patience_s or self._clock() - began_s >= 2 * patience_s:
                raise NoBoard(
                    f"{self._link.name}: nothing there answers as a handtick board; is it the data port, "
                    "and is handtick on the board?"
                )
            if not again and quiet_s >= patience_s / 2:
                again = True
                self._write(b"\n" + line)
        self._wait_for("hello", command_id, line)
        assert self.greeting is not None
        if self.greeting.fields["protocol"] != messages.PROTOCOL:
            raise NoBoard(
                f"{self._link.name}: the board speaks wire version {self.greeting.fields['protocol']}, this program "
                f"{messages.PROTOCOL}; put this program's firmware on the board"
            )
        return self.greeting

    def log_to(self, recorder: Recorder, close: Callable[[], None]) -> None:
        """Logs what has been heard since ``open`` and all that will be; ``close`` closes the log with the bench."""
        with uninterrupted():
            self._recorder, self._close_log = recorder, close
            unlogged, self._unlogged = self._unlogged or [], None
            if unlogged:
                recorder.take_all([event for event, _ in unlogged], unlogged[-1][1])

    @property
    def lost(self) -> bool:
        """Whether the link to the board is gone."""
        return self._lost

    @property
    def log_path(self) -> Path | None:
        """The log's file; None where nothing is logged."""
        return None if self._recorder is None else self._recorder.path

    @property
    def log_is_behind(self) -> bool:
        """Whether rows wait that could not be written into the log."""
        return self._recorder is not None and self._recorder.is_behind

    @property
    def heard(self) -> list[Event]:
        """What was heard since the latest command was sent."""
        return self._heard

    @property
    def port(self) -> str:
        """What the user calls the link, such as a port's name."""
        return self._link.name

    def also(self, listener: Listener) -> None:
        """Calls one more listener with every event from now on."""
        self._listeners.append(listener)

    def read(self, tick: Tick, late: bool = True) -> dict[str, int]:
        """The values of all named buses and lines at a tick: its late sample, or its early one."""
        return self.wiring.values(tick.late if late else tick.early)

    def step(self, count: int = 1) -> list[Tick]:
        """Makes ``count`` ticks of fixed width and returns them.

        Raises:
            Refused: the board says no; no tick was made.
            StoppedEarly: the clock came to rest before the last of them.
            LinkLost: the board is gone.
        """
        return _ticks(self.ask("step", count))

    def step_by_ready(self, count: int = 1, rate: str | None = None) -> list[Cycle]:
        """Lets a machine whose clock runs be ready for ``count`` cycles, one at a time, and returns them.

        The machine is held from then on, until ``let_go``. The wiring's ``clock`` says what its ready line is like.

        Args:
            count: how many cycles.
            rate: ticks a second at which a clock that is at rest is started, with the machine held; None where it runs.

        Raises:
            UsageError: the wiring does not say so.
            Refused: the board can't, or the clock does not run.
            StoppedEarly, LinkLost: as ``step``.
        """
        clock = self.wiring.clock
        if clock is None or not clock.ready:
            raise UsageError(
                "the wiring file does not say what the ready line is like; give its [clock] the key `ready`"
            )
        probe, level = messages.NO_PROBE, "high"
        if clock.ready_ignored:
            line = self.wiring.bus(clock.ready_ignored)
            probe, level = line.probes[0], "high" if clock.ready_ignored_at != line.inverted else "low"
        self.ask("ready_line", clock.ready, probe, level)
        if rate is None:
            return self._cycles(count)
        self.ask("ready_hold")
        try:
            self.run(rate)
            return self._cycles(count)
        except Refused:
            # As it was before: at rest, and ready.
            self.halt()
            self.let_go()
            raise

    def _cycles(self, count: int) -> list[Cycle]:
        return [event for event in self.ask("ready_step", count) if isinstance(event, Cycle)]

    def let_go(self) -> None:
        """Makes a machine that was held by its ready line ready for good. Raises as ``step``."""
        self.ask("ready_go")

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
        """What the board says of itself now.

        Raises:
            NoBoard: its firmware is so old that its status can't be read.
        """
        for event in reversed(self.ask("status")):
            if isinstance(event, Status):
                return event
        assert self.greeting is not None
        raise NoBoard(
            f"{self._link.name}: this program ({__version__}) can't read the status of this board (firmware "
            f"{self.greeting.fields['firmware']}); put this program's firmware on the board"
        )

    def note(self, text: str, place: tuple[int, int] | None = None) -> None:
        """Writes a note into the log, where there is one: on the tick of this boot whose reset and number ``place`` is,
        or on the present one."""
        if self._recorder is not None:
            with uninterrupted():
                self._recorder.note(text, time.time_ns(), place)

    def ask(self, kind: str, *values: int | str, keep: bool = True) -> list[Event]:
        """Sends a command, waits until it is answered, and returns what was heard meanwhile.

        Args:
            kind: the command's word.
            values: its fields, in order.
            keep: whether to keep what is heard. Without it nothing is returned, and however many ticks come take no
                memory; they are logged, and told to whoever listens, all the same.

        Raises:
            Refused, StoppedEarly, LinkLost: as ``step``.
            LogError: the log can't be written now. What came is kept, and goes in with the next commit that can.
        """
        self._heard = []
        self._keeps = keep
        try:
            command_id, line = self._session.command(kind, *values)
            self._begin(line)
            answer = self._wait_for(kind, command_id, line)
        finally:
            self._keeps = True
        if answer.why == reasons.NO_GREETING and kind != "bye":
            raise LinkLost(
                f"{self._link.name}: the board has forgotten this program, as if its cable was out; try again"
            )
        if answer.kind == "refused":
            raise Refused(f"refused: {sentence(answer.why)}{self._limit(answer.why)}")
        if answer.kind == "failed":
            raise StoppedEarly(f"stopped at tick {answer.tick}: {sentence(answer.why)}", answer.why)
        return self._heard

    def _limit(self, why: str) -> str:
        """What a refusal can add to its reason."""
        if why != reasons.TOO_FAST or self.greeting is None:
            return ""
        return f": {self.greeting.fields['top_rate']} Hz at most"

    def send(self, kind: str, *values: int | str) -> int:
        """Sends a command without waiting; returns the id its answer will carry."""
        command_id, line = self._session.command(kind, *values)
        self._begin(line)
        return command_id

    def listen(self, seconds: float) -> list[Event]:
        """Waits up to ``seconds`` for something to arrive and returns what it told."""
        self._heard = []
        self._unlogged = None
        # In short looks, as nobody can interrupt one.
        while self._listen(min(seconds, _READ_S)) is None and seconds > _READ_S:
            seconds -= _READ_S
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
        lost = self._lost
        # What the log can't take now it may take at its end, where what is lost is said.
        self._closing = True
        try:
            if self.greeting is not None and not lost:
                # Its answer comes after everything that was told before it.
                self.ask("bye", keep=False)
        except LinkLost:
            lost = True
        except Refused:
            # It had taken the first goodbye, whose answer did not arrive.
            pass
        finally:
            self._end("the board is gone" if lost else "the host closed the connection")

    def abandon(self) -> None:
        """Closes the link and the log without goodbye, where nothing came of opening."""
        self._end("the host closed the connection")

    def _end(self, why: str) -> None:
        with uninterrupted():
            try:
                self._link.close()
            finally:
                self._finish_log(why)

    def _finish_log(self, why: str) -> None:
        recorder, self._recorder = self._recorder, None
        if recorder is None:
            return
        try:
            now_ns = time.time_ns()
            recorder.take_all(self._session.disconnected(), now_ns)
            recorder.stop(why, now_ns)
        except LogError:
            # Rows that wait go in as the log is closed, or are said to be lost there.
            if not recorder.is_behind:
                raise
        finally:
            self._close_log()

    def __enter__(self) -> Self:
        try:
            self.open()
        except BaseException:
            self.abandon()
            raise
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, where: TracebackType | None
    ) -> None:
        waited = isinstance(error, LogError) and self.log_is_behind
        try:
            self.close()
        except KeyboardInterrupt:
            # All is closed by then, and what ended the block says more.
            if not isinstance(error, HandtickError):
                raise
        if waited:
            raise LogError(f"{error}; they went in as the log was closed") from error

    def _begin(self, line: bytes) -> None:
        """Sends a command; what came before belongs to no log that is given later."""
        self._unlogged = None
        self._write(line)

    def _write(self, line: bytes) -> None:
        with uninterrupted():
            self._link.write(line)

    def _wait_for(self, kind: str, command_id: int, line: bytes) -> Answer:
        """Waits for an answer; says the command again where it, or its answer, may not have arrived."""
        boot = self.greeting.boot if self.greeting is not None else None
        self._answers.setdefault(command_id, None)
        waiting = Waiting(kind)
        try:
            while (answer := self._answers[command_id]) is None:
                came, took_s = self._look()
                self._see_whether_restarted(boot)
                if self._answers[command_id] is not None:
                    continue
                what = waiting.hear(came, took_s)
                if what == SILENT:
                    self._lost = True
                    raise LinkLost(f"{self._link.name}: the board has stopped answering; is it still plugged in?")
                if what == UNANSWERED:
                    raise LinkLost(
                        f"{self._link.name}: the board is there, but its answer to {kind} does not arrive; "
                        "is the cable loose or too long?"
                    )
                if what == WHO:
                    # Ahead of the command: one that has restarted knows of no command, and says by this that it has.
                    self._write(self._session.command("who")[1] + line)
                elif what == AGAIN:
                    self._write(line)
        finally:
            del self._answers[command_id]
        return answer

    def _see_whether_restarted(self, boot: int | None) -> None:
        now = self.greeting
        if boot is not None and now is not None and now.boot != boot:
            raise LinkLost(
                f"{self._link.name}: the board has restarted (boot {boot}, now boot {now.boot}); what was asked is off"
            )

    def _look(self) -> tuple[list[Event] | None, float]:
        """Listens for a moment; returns what came, None for nothing, and how many seconds that took."""
        began_s = self._clock()
        came = self._listen(_READ_S)
        took_s = self._clock() - began_s
        return came, max(took_s, _READ_S) if came is None else took_s

    def _listen(self, seconds: float) -> list[Event] | None:
        """Takes in what arrives next and tells it; returns it, None where nothing came at all."""
        # What an interrupt has kept from being told.
        self._tell()
        failed: LogError | None = None
        with uninterrupted():
            try:
                data = self._link.read(seconds)
            except LinkLost:
                self._lost = True
                raise
            events = []
            for event in self._session.receive(data):
                # What is no line before the greeting was not said to us.
                if self.greeting is not None or not isinstance(event, Damage):
                    events.append(event)
                    self._note(event)
            try:
                self._log(events)
            except LogError as error:
                failed = error
        self._tell()
        if failed is not None and not self._closing:
            raise failed
        return events if data else None

    def _log(self, events: list[Event]) -> None:
        now_ns = time.time_ns()
        if self._recorder is not None:
            self._recorder.take_all(events, now_ns)
        elif self._unlogged is not None:
            self._unlogged += [(event, now_ns) for event in events]

    def _tell(self) -> None:
        while self._untold:
            event = self._untold.popleft()
            for listener in self._listeners:
                listener(event)

    def _note(self, event: Event) -> None:
        """Keeps what is asked for later, and what is to be told."""
        # Whoever listens or counts has to do with ticks, however they came.
        if self._keeps or self._listeners:
            each = list(event.ticks()) if isinstance(event, Block) else [event]
            if self._keeps:
                self._heard += each
            if self._listeners:
                self._untold += each
        if isinstance(event, Greeting):
            self.greeting = event
            self.reset_number, self.tick, self.edges = event.reset, event.tick, event.edges
        elif isinstance(event, State):
            self.reset_number, self.tick, self.edges = event.reset, event.tick, event.edges
            self.rate = event.rate
        elif isinstance(event, ResetDone):
            self.reset_number, self.tick, self.edges = event.reset, 0, event.edges
        elif isinstance(event, Answer):
            if event.command_id in self._answers:
                self._answers[event.command_id] = event
            # An answer that comes once more tells of the time it was given.
            if event.kind != "refused" and event.edges >= self.edges:
                self.tick, self.edges = event.tick, event.edges


def _ticks(events: list[Event]) -> list[Tick]:
    return [event for event in events if isinstance(event, Tick)]


def _nothing() -> None:
    """Where there is no log to close."""
