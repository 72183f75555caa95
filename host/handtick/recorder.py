"""Writes what a session hears into the log: ticks, runs with why they stopped, gaps, damage, greetings."""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path

from handtick.errors import LogError
from handtick.events import Block, Cycle, Damage, Event, Gap, Greeting, ResetDone, State, Tick, Unplaced
from handtick.log import NOT_TOLD, LogWriter
from handtick_wire import reasons

CUT_OFF = "not told: the end of the run did not arrive"


def cycle_words(cycle: Cycle) -> str:
    """A cycle by the ready line as it is noted in the log."""
    passed = f"; not held: {cycle.passed} more" if cycle.passed else ""
    return f"cycle {cycle.number} by the ready line: {cycle.early:04X} > {cycle.late:04X}{passed}"


class Recorder:
    """One board's events into one log.

    Args:
        log: the open log; closing it is the caller's.
    """

    def __init__(self, log: LogWriter) -> None:
        self._log = log
        # Whether something was taken that is committed at once.
        self._at_once = False
        # The open run: its id, its first tick, and what was asked; and the last tick of the one before.
        self._run: int | None = None
        self._first = self._ended = (0, 0, 0)
        self._asked = ""
        # The place last heard of, the last tick that came, and the last one told to be missing.
        self._last = self._newest = self._told = (0, 0, 0)

    @property
    def path(self) -> Path:
        """The log's file."""
        return self._log.path

    @property
    def is_behind(self) -> bool:
        """Whether rows wait that could not be written."""
        return self._log.is_behind

    def take(self, event: Event, now_ns: int) -> None:
        """Logs one event; see ``take_all``."""
        self.take_all((event,), now_ns)

    def take_all(self, events: Iterable[Event], now_ns: int) -> None:
        """Logs events, none perhaps, and commits where that is due: a run has ended, or a second has passed.

        Args:
            events: what was heard, in order.
            now_ns: host time in nanoseconds since 1970.

        Raises:
            LogError: a commit failed, or the log can't hold a number. All that it can hold has been taken all the same.
        """
        refused: LogError | None = None
        for event in events:
            try:
                self._take(event, now_ns)
            except LogError as error:
                refused = refused or error
        at_once, self._at_once = self._at_once, False
        if at_once:
            self._log.commit(now_ns)
        else:
            self._log.commit_if_due(now_ns)
        if refused is not None:
            raise refused

    def _take(self, event: Event, now_ns: int) -> None:
        if isinstance(event, Tick):
            key = (event.boot, event.reset, event.tick)
            self._find_run(key, key, now_ns)
            self._last, self._newest = key, max(key, self._newest)
            self._log.add_tick(event.boot, event.reset, event.tick, event.early, event.late, event.time_us, event.flags)
        elif isinstance(event, Block):
            self._block(event, now_ns)
        elif isinstance(event, State):
            self._state(event, now_ns)
        elif isinstance(event, Gap):
            self._told = max((event.boot, event.reset, event.last), self._told)
            self._log.add_gap(event.boot, event.reset, event.first, event.last, event.why, now_ns)
        elif isinstance(event, Unplaced):
            self._log.add_unplaced(event.boot, event.reset, event.count, event.why, now_ns)
        elif isinstance(event, Damage):
            self._log.add_damage(event.raw, event.lines, now_ns, *self._last)
        elif isinstance(event, Greeting):
            self._greeting(event, now_ns)
        elif isinstance(event, Cycle):
            self._log.add_note(event.boot, event.reset, event.tick, cycle_words(event), now_ns)
        elif isinstance(event, ResetDone):
            self._end_run(CUT_OFF, now_ns)
            self._last = (event.boot, event.reset, 0)

    def note(self, text: str, now_ns: int, place: tuple[int, int] | None = None) -> None:
        """Logs what somebody wrote about a tick of this boot, ``place`` being its reset and number, or about the one
        last heard of."""
        reset, tick = self._last[1:] if place is None else place
        self._log.add_note(self._last[0], reset, tick, text, now_ns)
        self._log.commit(now_ns)

    def stop(self, why: str, now_ns: int) -> None:
        """The link is gone or the program ends: the open run, if there is one, ends here as far as anybody knows."""
        self._end_run(why, now_ns)
        self._at_once = False
        self._log.commit(now_ns)

    def _block(self, event: Block, now_ns: int) -> None:
        last = (event.boot, event.reset, event.last)
        self._find_run((event.boot, event.reset, event.first), last, now_ns)
        self._last, self._newest = last, max(last, self._newest)
        self._log.add_block(event.boot, event.reset, event.first, event.early, event.late, event.times_us, event.flags)

    def _find_run(self, first: tuple[int, int, int], last: tuple[int, int, int], now_ns: int) -> None:
        """Sees to it that new ticks belong to a run: one begun before anybody listened, or whose beginning got lost."""
        if last <= self._newest:
            return
        if first[:2] > self._first[:2]:
            # The reset between was not heard of.
            self._end_run(CUT_OFF, now_ns)
        if self._run is None:
            self._start_run(first, NOT_TOLD, now_ns)
        elif self._ended < last < self._first:
            # Of the run before the one that has begun, of which nothing arrived.
            run = self._log.start_run(*first, NOT_TOLD, now_ns)
            self._log.end_run(run, last[2], CUT_OFF, now_ns, commits=False)
            self._at_once = True

    def _start_run(self, first: tuple[int, int, int], asked: str, now_ns: int) -> None:
        self._first, self._asked = first, asked
        self._run = self._log.start_run(*first, asked, now_ns)

    def _greeting(self, event: Greeting, now_ns: int) -> None:
        if event.restarted:
            self._end_run(CUT_OFF, now_ns)
            self._first = self._ended = self._newest = self._told = (event.boot, 0, 0)
        self._last = (event.boot, event.reset, event.tick)
        self._log.greet(event.boot, event.reset, event.tick, event.edges, event.fields, now_ns)
        # Whoever goes on with the log must know how far the account of this start of the board had come.
        self._at_once = True
        if event.fields.get("mode") == "held" and self._run is None:
            # Half a tick, made before and kept: the other half is of the same run.
            whole = max((event.boot, event.reset, max(event.tick - 1, 0)), self._newest, self._told)
            self._last = whole
            self._start_run((event.boot, event.reset, whole[2] + 1), "half", now_ns)

    def _state(self, event: State, now_ns: int) -> None:
        place = (event.boot, event.reset, event.tick)
        if event.why in (reasons.ASKED, reasons.ROOM):
            # One run ends before the next begins; where its own end did not arrive, nobody knows why it stopped. A tick
            # of which only half was made is the next one's.
            half_open = self._run is not None and self._asked == "half" and self._first[:2] == place[:2]
            first = event.tick if half_open and self._reached(place) < place else event.tick + 1
            self._end_run(CUT_OFF, now_ns, place)
            self._start_run((event.boot, event.reset, first), event.asked, now_ns)
        elif event.why != reasons.RATE:
            self._end_run(event.why if place[:2] == self._first[:2] else CUT_OFF, now_ns, place)

    def _end_run(self, why: str, now_ns: int, place: tuple[int, int, int] | None = None) -> None:
        """The open run, if there is one, ends where it was last heard of, or at the place where it is told to end."""
        run, self._run = self._run, None
        if run is not None:
            self._ended = self._reached(place)
            self._log.end_run(run, self._ended[2], why, now_ns, commits=False)
            self._at_once = True

    def _reached(self, place: tuple[int, int, int] | None = None) -> tuple[int, int, int]:
        """The last tick of the open run, up to a place, that came or is told to be missing; the one before its first
        where none is. A greeting goes ahead of all that waits, so that ticks of later runs can be told already."""
        boot, reset, first = self._first
        ticks = [
            tick
            for each_boot, each_reset, tick in (self._newest, self._told)
            if (each_boot, each_reset) == (boot, reset)
        ]
        last = max([first - 1, *ticks])
        if place is not None and place[:2] == (boot, reset):
            last = max(first - 1, min(last, place[2]))
        return boot, reset, last
