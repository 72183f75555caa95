"""What the engine that makes bursts does in a way of its own: exact rates, halts and stops at speed, limits."""

from __future__ import annotations

import itertools
from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Answer
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick.virtual.burst_line import BurstLine
from handtick_board.settings import Settings
from handtick_wire import reasons
from handtick_wire.messages import FLAG_HALT_IGNORED, FLAG_UNSETTLED
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter, StillMachine

pytestmark = pytest.mark.usefixtures("in_bursts")


def connected(machine: StillMachine | None = None, settings: Settings | None = None) -> tuple[VirtualBoard, Hearing]:
    """A board that a host has greeted."""
    board = VirtualBoard(machine or Counter(), settings)
    return board, Hearing(VirtualLink(board))


def spans(board: VirtualBoard) -> list[tuple[float, float, int]]:
    """First edge, last edge and ticks of every burst."""
    assert isinstance(board.line, BurstLine)
    return board.line.spans_us()


def phases(board: VirtualBoard) -> set[float]:
    """Lengths of all phases but the rests at both ends, in nanoseconds."""
    times = [at_us for at_us, _ in board.line.edges]
    return {round((later - earlier) * 1000) for earlier, later in itertools.pairwise(times)}


@pytest.mark.parametrize(
    ("asked", "given", "high_ns", "low_ns"),
    [
        ("9000000", "8928571.428", 48, 64),
        ("1000000", "1000000", 504, 496),
        ("3", "2.999", None, None),
        ("9615384.615", "9615384.615", 40, 64),
    ],
)
def test_rate_is_rounded_down_to_whole_cycles_and_told(
    asked: str, given: str, high_ns: int | None, low_ns: int | None
) -> None:
    """9 MHz gives 8.93 MHz, the fastest that whole cycles of 8 ns make; never more than was asked."""
    board, hearing = connected()
    hearing.ask("burst", 5, asked)
    moving = [state for state in hearing.states if state.mode == "moving"]
    assert float(moving[-1].rate) <= float(asked)
    if asked != "3":
        assert moving[-1].rate == given
        assert phases(board) == {high_ns, low_ns}


def test_rate_above_the_engine_s_is_refused_and_the_limit_told() -> None:
    """A tick takes thirteen cycles with its samples: 9.6 MHz at 125 MHz is the most."""
    board, hearing = connected()
    assert hearing.ask("run", "9615384.616").why == reasons.TOO_FAST
    assert board.board.clock.edges == 0


def test_machine_s_own_top_rate_is_a_limit_too() -> None:
    """With a top rate in the settings, nothing goes faster than that."""
    settings = Settings()
    settings.top_rate_mhz = 2_000_000_000
    _, hearing = connected(settings=settings)
    assert hearing.ask("burst", 10, "2000000.001").why == reasons.TOO_FAST
    assert hearing.ask("burst", 10, "2000000").kind == "done"


def test_million_ticks_are_a_million_edges_in_a_second() -> None:
    """1 MHz for a million ticks, without samples of all of them: exactly those, as far apart as asked."""
    board, hearing = connected()
    assert hearing.ask("burst", 1_000_000, "1000000").edges == 1_000_000
    assert board.machine.count == 1_000_000  # type: ignore[attr-defined]
    first, last = spans(board)[0][0], spans(board)[-1][1]
    assert last - first == pytest.approx(999_999)
    assert [tick.tick for tick in hearing.ticks] == list(range(1_000_000 - 1024 + 1, 1_000_001))
    [gap] = hearing.gaps
    assert (gap.first, gap.last, gap.why) == (1, 1_000_000 - 1024, reasons.NOT_SAMPLED)


def test_samples_of_every_tick_can_be_asked_for_at_any_rate() -> None:
    """With samples of all, a fast run pauses between bursts and every tick is told."""
    board, hearing = connected()
    hearing.ask("samples", "all")
    hearing.ask("burst", 20_000, "1000000")
    assert [(tick.tick, tick.early, tick.late) for tick in hearing.ticks] == [
        (number, number - 1 & 0xFFFF, number) for number in range(1, 20_001)
    ]
    assert not hearing.gaps
    assert len(spans(board)) >= 20_000 / 2048


def test_tick_numbers_go_past_two_to_the_thirty_second() -> None:
    """From 4294967290 to 4294967300 is ten ticks, with their numbers."""
    board, hearing = connected()
    board.board.clock.tick = board.board.outbox._offered = 4_294_967_290
    board.board.outbox._next_tick = 4_294_967_291
    hearing.ask("to", 4_294_967_300, "1000000")
    assert [tick.tick for tick in hearing.ticks] == list(range(4_294_967_291, 4_294_967_301))
    assert board.board.clock.edges == 10


class Rippling(StillMachine):
    """A bus that goes from 7F to 80 at the rising edge, a line at a time: the last of them 40 ns after it."""

    moves_ns = ((12, 0x80, 0x80), (18, 0x01, 0), (22, 0x02, 0), (25, 0x04, 0), (28, 8, 0), (31, 16, 0), (36, 32, 0))

    def __init__(self) -> None:
        self.now_us: Callable[[], float] = lambda: 0.0
        self._edge_us = -1.0

    def set_clock(self, level: bool) -> None:
        """Notes when it was clocked first."""
        if level and self._edge_us < 0:
            self._edge_us = self.now_us()

    def probes(self) -> int:
        """The bus at this moment."""
        value = 0x7F
        if self._edge_us >= 0:
            since_ns = round((self.now_us() - self._edge_us) * 1000)
            for at_ns, mask, bits in (*self.moves_ns, (40, 64, 0)):
                if since_ns >= at_ns:
                    value = value & ~mask | bits
        return value


@pytest.mark.parametrize(("rate", "late", "flags"), [("1000000", 0x80, 0), ("9000000", 0x80, FLAG_UNSETTLED)])
def test_lines_that_change_forty_nanoseconds_after_the_edge(rate: str, late: int, flags: int) -> None:
    """The early sample is what was there before, the late one what came; never a mixture. Taken sooner than 300 ns
    after an edge, they are marked."""
    machine = Rippling()
    board, hearing = connected(machine)
    machine.now_us = lambda: board.moment_us
    hearing.ask("burst", 1, rate)
    [tick] = hearing.ticks
    assert (tick.early, tick.late, tick.flags) == (0x7F, late, flags)


@given(at_ticks=st.integers(1, 900), early_us=st.integers(1, 900))
def test_halt_line_at_a_megahertz_stops_at_the_end_of_a_tick(at_ticks: int, early_us: int) -> None:
    """Asserted in any microsecond of a fast run, the halt line stops the clock at the next boundary; line, count and
    records agree."""
    machine = Counter()
    board, hearing = connected(machine)
    start_us = board.now_us
    board.force_halt([(at_ticks, 1)], start_us)
    answer = hearing.ask("burst", 1000, "1000000")
    assert (answer.kind, answer.why) == ("failed", reasons.HALT_LINE)
    assert machine.count == board.board.clock.edges == answer.edges == len(hearing.ticks) == at_ticks + 1
    assert board.line.value is False


@pytest.mark.fault(
    "machine",
    "a halt line that glitches within a tick",
    "the clock goes on",
)
def test_short_halt_pulse_within_a_tick_stops_nothing() -> None:
    """A pulse that is over before the boundary is not obeyed, at a megahertz as at any rate."""
    board, hearing = connected()
    settings_us = board.now_us
    # The ticks of 8 us; asserted from 1 us to 3 us into the third.
    board.force_halt([(17, 1), (19, 0)], settings_us)
    assert hearing.ask("burst", 100, "125000").kind == "done"
    assert board.board.clock.edges == 100


def test_machine_that_halts_itself_stops_at_that_tick() -> None:
    """A machine that asserts its halt line at its 300th tick makes no 301st."""

    class Halting(Counter):
        @property
        def halted(self) -> bool:  # type: ignore[override]
            return self.count >= 300

    machine = Halting()
    _, hearing = connected(machine)
    assert hearing.ask("burst", 5000, "9000000").why == reasons.HALT_LINE
    assert machine.count == 300


def test_halt_line_can_be_ignored_for_a_while_and_that_is_marked() -> None:
    """Told to ignore it for five ticks, the clock goes past an asserted halt line five times, marks them, and stops."""
    board, hearing = connected()
    board.halt_pin.forced = True
    board.run_until(board.now_us + 10)
    assert hearing.ask("run", "1000").why == reasons.HALT_LINE
    hearing.ask("ignore_halt", 5)
    answer = hearing.ask("burst", 20, "1000")
    assert (answer.kind, answer.why) == ("failed", reasons.HALT_LINE)
    assert [tick.flags for tick in hearing.ticks] == [FLAG_HALT_IGNORED] * 5


@given(
    turns=st.lists(st.tuples(st.integers(1, 4000), st.sampled_from(["1000", "20000", "333333", "1000000"])), max_size=8)
)
def test_new_rates_take_hold_at_tick_boundaries(turns: list[tuple[int, str]]) -> None:
    """Whenever the rate is changed, every high is one of a rate that was asked for, and all edges are counted."""
    board, hearing = connected()
    hearing.ask("run", "50000")
    asked = {"50000"}
    for wait_us, rate in turns:
        board.run_until(board.now_us + wait_us)
        hearing.ask("rate", rate)
        asked.add(rate)
    hearing.ask("halt")
    highs = set()
    for (start, level), (end, _) in itertools.pairwise(board.line.edges):
        if level:
            highs.add(round((end - start) * 1000))
    expected = {round(8 * (high)) for high, _ in (board.board.clock.phases(int(rate) * 1000, 50) for rate in asked)}
    assert highs <= expected
    assert min(phases(board)) >= 496
    assert len(board.rising_edges_us) == board.board.clock.edges


def limited(hearing: Hearing, may_stop: str = "no", high_us: int = 5, low_us: int = 5) -> None:
    """Says what the machine's clock may not do."""
    assert hearing.ask("limits", may_stop, high_us, low_us).kind == "done"


@pytest.mark.fault(
    "machine",
    "a clock that may not stop is asked to",
    "the reason; no tick",
)
@pytest.mark.parametrize(
    ("command", "why"),
    [
        (("step", 1), reasons.PHASE_TOO_LONG),
        (("half",), reasons.PHASE_TOO_LONG),
        (("run", "1000"), reasons.PHASE_TOO_LONG),
        (("burst", 10, "200000"), reasons.MAY_NOT_STOP),
        (("to", 10, "200000"), reasons.MAY_NOT_STOP),
    ],
)
def test_what_a_machine_can_not_bear_is_refused(command: tuple[str | int, ...], why: str) -> None:
    """Phases of 5 us at most and no stop: steps, half ticks, slow runs and whatever would end at rest are refused."""
    board, hearing = connected()
    limited(hearing)
    assert hearing.ask(str(command[0]), *command[1:]).why == why
    board.press([(0, 1), (5000, 0)], board.now_us)
    board.run_until(board.now_us + 50_000)
    hearing.listen()
    assert board.board.clock.edges == 0
    assert [notice.what for notice in hearing.notices] == [reasons.PRESS_REFUSED]


@pytest.mark.fault(
    "machine",
    "the host stalls while the clock may not stop",
    "no phase is stretched",
)
def test_clock_that_may_not_stop_does_not_while_the_host_stalls() -> None:
    """At 200 kHz with a host that reads nothing for five seconds, every phase is 2.5 us: none is stretched."""
    board, hearing = connected()
    limited(hearing)
    assert hearing.ask("run", "200000").kind == "done"
    began_us = board.now_us
    board.port._room = 0
    board.run_until(began_us + 5_000_000)
    assert hearing.session is not None
    [(first_us, last_us, ticks)] = spans(board)
    assert ticks == 1_000_001
    assert last_us - first_us == pytest.approx(5_000_000)
    assert phases(board) == {2496, 2504}
    assert hearing_refuses(board, hearing) == reasons.MAY_NOT_STOP


def hearing_refuses(board: VirtualBoard, hearing: Hearing) -> str:
    """Why a new rate is refused."""
    board.port._room = 4096
    answer: Answer = hearing.ask("rate", "250000")
    return answer.why


@pytest.mark.fault(
    "machine",
    "the cable is pulled while the clock may not stop",
    "it runs on",
)
def test_clock_that_may_not_stop_outlives_its_host() -> None:
    """With the cable pulled, such a clock runs on."""
    board, hearing = connected()
    limited(hearing)
    hearing.ask("run", "200000")
    board.port.host_close()
    board.run_until(board.now_us + 1_000_000)
    assert board.board.conductor.mode == "moving"


def test_clock_that_may_stop_low_steps_but_not_by_halves() -> None:
    """A machine that bears a long low and a high of 5 us takes short highs, and a rest; half a tick is refused."""
    settings = Settings()
    settings.step_us = 4
    board, hearing = connected(settings=settings)
    limited(hearing, "low", 5, 0)
    assert hearing.ask("half").why == reasons.MAY_NOT_STOP
    assert hearing.ask("step", 3).kind == "done"
    assert phases(board) == {4000}
