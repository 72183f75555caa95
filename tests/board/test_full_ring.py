"""A host that stops reading: nothing is lost unless the user chose so, and what is lost is told."""

from __future__ import annotations

import itertools

import pytest

from handtick.events import Gap
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board.settings import Settings
from handtick_wire import reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter

pytestmark = pytest.mark.usefixtures("on_pins")


def stalled(when_full: str) -> tuple[VirtualBoard, Hearing]:
    """Runs at 1 kHz; after tick 1000 the host reads nothing more until tick 6000 would have been made."""
    settings = Settings()
    settings.when_full = when_full
    board = VirtualBoard(Counter(), settings)
    hearing = Hearing(VirtualLink(board))
    hearing.ask("run", "1000")
    while board.board.clock.tick < 1000:
        board.run_until(board.now_us + 100)
        hearing.take()
    hearing.take()
    # From here on the port takes nothing: what it held is not part of the ring's 4096.
    board.port._room = 0
    board.run_until(board.now_us + 5_000_000)
    board.port._room = 4096
    return board, hearing


def hear_out(board: VirtualBoard, hearing: Hearing) -> None:
    """Halts and reads everything."""
    hearing.ask("halt")
    while not board.board.outbox.idle:
        hearing.take()
        board.run_until(board.now_us + 1000)
    hearing.take()


@pytest.mark.fault(
    "board",
    "the host stops reading for five seconds, `free` set",
    "the ticks that were lost, by number",
)
def test_free_run_keeps_what_there_is_room_for_and_tells_the_rest() -> None:
    """With `free`, 4096 ticks after the stall are kept, the 904 after them are told as lost, and widths stay right."""
    board, hearing = stalled("free")
    assert 0 <= len(board.rising_edges_us) - 6000 <= VirtualBoard.bursts
    hear_out(board, hearing)
    numbers = [tick.tick for tick in hearing.ticks]
    gaps = [(event.first, event.last, event.why) for event in hearing.events if isinstance(event, Gap)]
    [(first, last, why)] = gaps
    # The tick in hand when there is room again is kept; a burst that is under way then ends without samples.
    assert (first, why) == (5097, reasons.LOG_FULL)
    assert -1 <= last - 6000 <= 50 * VirtualBoard.bursts
    assert numbers == [*range(1, 5097), *range(last + 1, board.board.clock.tick + 1)]
    assert widths(board) == {500}


@pytest.mark.fault(
    "board",
    "the host stops reading for five seconds",
    "the clock waits, says why, and goes on; nothing is lost",
)
def test_pause_holds_the_clock_at_a_tick_boundary_and_goes_on() -> None:
    """With `pause`, the clock rests after tick 5096 because the log is full, goes on by itself, and nothing is lost."""
    board, hearing = stalled("pause")
    assert board.board.clock.tick == 5096
    assert board.board.conductor.mode == "waiting"
    assert board.line.value is False
    board.run_until(board.now_us + 1000)
    for _ in range(16):
        hearing.take()
        board.run_until(board.now_us + 50_000)
    assert board.board.clock.tick > 5096
    hear_out(board, hearing)
    assert [tick.tick for tick in hearing.ticks] == list(range(1, board.board.clock.tick + 1))
    assert not hearing.gaps
    assert reasons.LOG_FULL in [state.why for state in hearing.states]
    assert reasons.ROOM in [state.why for state in hearing.states]
    assert min(widths(board)) == 500


def test_clock_that_was_held_goes_on_for_a_while_before_it_is_held_again() -> None:
    """A host that reads slowly makes long stretches of the run, not a stop and a start at every tick."""
    settings = Settings()
    settings.ring = 64
    board = VirtualBoard(Counter(), settings, port_room=64)
    hearing = Hearing(VirtualLink(board))
    # Judged after each tick, so that both engines make them one by one.
    hearing.ask("stop_when", "N1,T=99999")
    hearing.ask("run", "1000")
    for _ in range(600):
        # One port's room of lines each 4 ms: about a quarter as fast as the ticks come.
        board.run_until(board.now_us + 4000)
        hearing.take()
    hear_out(board, hearing)
    held = [state for state in hearing.states if state.why == reasons.LOG_FULL]
    assert len(held) > 1
    assert len(hearing.ticks) >= 16 * (len(held) - 1)
    assert [tick.tick for tick in hearing.ticks] == list(range(1, board.board.clock.tick + 1))


@pytest.mark.fault(
    "board",
    "a host that reads too slowly all evening",
    "few long gaps",
)
def test_free_run_with_a_slow_host_loses_long_stretches_and_keeps_its_memory() -> None:
    """However long a host reads too slowly, what waits to be told stays short, and ticks and gaps are all ticks."""
    settings = Settings()
    settings.ring, settings.when_full = 64, "free"
    board = VirtualBoard(Counter(), settings, port_room=64)
    hearing = Hearing(VirtualLink(board))
    hearing.ask("run", "1000")
    longest = 0
    for _ in range(2000):
        board.run_until(board.now_us + 4000)
        hearing.take()
        longest = max(longest, len(board.board.outbox._queue))
    hear_out(board, hearing)
    assert longest <= 20
    numbers = [tick.tick for tick in hearing.ticks]
    for gap in hearing.gaps:
        numbers += range(gap.first, gap.last + 1)
    assert sorted(numbers) == list(range(1, board.board.clock.tick + 1))


@pytest.mark.fault(
    "board",
    "no host at all, for longer than the ring holds",
    "the clock goes on; later, a gap",
)
@pytest.mark.parametrize("when_full", ["pause", "free"])
def test_nobody_connected_never_holds_the_clock(when_full: str) -> None:
    """A board used by hand alone, with no host at all, does not stop when its ring is full."""
    settings = Settings()
    settings.when_full = when_full
    settings.ring = 16
    board = VirtualBoard(Counter(), settings)
    board.board.conductor.run(1_000_000)
    board.run_until(board.now_us + 99_999)
    assert len(board.rising_edges_us) == 100


def widths(board: VirtualBoard) -> set[int]:
    """Lengths of all phases on the line, the rests at both ends aside."""
    times = [at_us for at_us, _ in board.line.edges]
    return {later - earlier for earlier, later in itertools.pairwise(times)}


@pytest.mark.parametrize("rate", ["45", "100", "640", "900"])
def test_what_waits_for_a_host_takes_little_memory_at_any_rate(rate: str) -> None:
    """Nobody reads for as long as it takes to fill the ring: few reports wait beside the samples."""
    settings = Settings()
    board = VirtualBoard(Counter(), settings)
    hearing = Hearing(VirtualLink(board))
    board.port._room = 0
    hearing.send("run", rate)
    board.run_until(board.now_us + 100_000_000)
    assert board.board.conductor.mode in ("waiting", "rest", "moving")
    assert len(board.board.outbox._queue) < 200
    assert board.board.outbox.waiting >= 500
    board.port._room = 4096
    hear_out(board, hearing)
    assert [tick.tick for tick in hearing.ticks] == list(range(1, board.board.clock.tick + 1))
    assert not hearing.gaps
