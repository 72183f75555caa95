"""A board whose passes take time, and which stays with a clock that is faster than a pass: as on a microcontroller."""

from __future__ import annotations

import itertools

from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Tick
from handtick.session import Session
from handtick.virtual.pins import Contact, HaltPin, OutputPin, Port, Probes
from handtick_board.board import Board
from handtick_board.rim import Identity, Rim
from handtick_board.settings import Settings
from handtick_board.us_time import LongTime, wrapped
from tests.board.still_machine import Counter

_RANGE = 1 << 30


class Busy:
    """A board on which every look at the time costs some, so that time passes inside a pass of the loop."""

    def __init__(self, cost_us: int, start_us: int) -> None:
        self.now_us = start_us
        self._cost_us = cost_us
        machine = Counter()
        self.line = OutputPin(False, lambda: self.now_us, machine.set_clock)
        self.port = Port()
        reset_line = OutputPin(False, lambda: self.now_us, machine.set_reset)
        rim = Rim(
            self.line, reset_line, HaltPin(machine), Probes(machine), Contact(), self.port, self._look, pass_us=2000
        )
        self.board = Board(rim, Settings(), Identity("busy", "busy", 1, "power-on"))
        self.port.host_open()
        self.session = Session(1)
        self.heard: list[object] = []
        self.ask("hello", 1)

    def ask(self, kind: str, *values: int | str) -> None:
        """Sends a command and lets the loop pass until nothing is left to tell."""
        self.port.host_write(self.session.command(kind, *values)[1])
        idle = 0
        while idle < 3:
            self.board.poll()
            self.now_us += 300
            self.heard += self.session.receive(self.port.host_read())
            idle = idle + 1 if self.board.clock.rested and self.board.outbox.idle else 0

    def _look(self) -> int:
        self.now_us += self._cost_us
        return wrapped(self.now_us)


@given(
    cost_us=st.integers(5, 900),
    rate=st.sampled_from(["50", "200", "1000"]),
    count=st.integers(1, 60),
    start_us=st.one_of(st.just(0), st.integers(0, 3 * _RANGE), st.integers(_RANGE - 200_000, _RANGE + 1000)),
)
def test_ticks_of_a_busy_loop_have_their_numbers_and_times(cost_us: int, rate: str, count: int, start_us: int) -> None:
    """However long a pass takes and wherever board time wraps: every tick is told with the time of its own edge."""
    busy = Busy(cost_us, start_us)
    busy.ask("burst", count, rate)
    ticks = [event for event in busy.heard if isinstance(event, Tick)]
    edges = [time_us for time_us, level in busy.line.edges if level]
    assert [tick.tick for tick in ticks] == list(range(1, count + 1))
    assert len(edges) == count
    # Board time counts from a multiple of its range; the edge is made within two looks at the time.
    base = edges[0] - ticks[0].time_us
    for tick, edge in zip(ticks, edges, strict=True):
        assert abs(edge - tick.time_us - base) <= 2 * cost_us
    times = [time_us for time_us, _ in busy.line.edges]
    half_us = 500_000 // int(rate)
    assert all(after - before >= half_us for before, after in itertools.pairwise(times))


@given(note_us=st.integers(0, 8 * _RANGE), ahead_us=st.integers(-(_RANGE // 2) + 1, _RANGE // 2 - 1))
def test_whole_time_of_a_moment_near_the_latest_note(note_us: int, ahead_us: int) -> None:
    """A moment up to nine minutes before or after the latest note keeps its whole time across every wrap."""
    time = LongTime()
    for at_us in range(0, note_us, _RANGE // 2):
        time.note(wrapped(at_us))
    time.note(wrapped(note_us))
    assert time.full_us(wrapped(note_us + ahead_us)) == note_us + ahead_us
    assert time.era(wrapped(note_us + ahead_us), 27) == (note_us + ahead_us) >> 27
