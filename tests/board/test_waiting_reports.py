"""What waits for a host that is not there or does not read: it takes little memory, and the board can be reached."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Gap, Tick, Unplaced
from handtick.links.virtual import VirtualLink
from handtick.session import Session
from handtick.virtual.board import VirtualBoard
from handtick_board.outbox import Outbox
from handtick_board.ring import Ring
from handtick_board.settings import Settings
from handtick_wire import reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter

FIVE_MINUTES_US = 300_000_000


def alone(settings: Settings | None = None) -> VirtualBoard:
    """A board that nobody has ever connected."""
    return VirtualBoard(Counter(), settings)


def heard_out(board: VirtualBoard) -> Hearing:
    """Greets a board, which answers, and hears all that has waited."""
    hearing = Hearing(VirtualLink(board))
    while not board.board.outbox.idle:
        hearing.take()
        board.run_until(board.now_us + 1000)
    hearing.take()
    return hearing


def press(board: VirtualBoard) -> None:
    """One press, five minutes after the one before."""
    board.press([(0, 1), (50_000, 0)], board.now_us)
    board.run_until(board.now_us + FIVE_MINUTES_US)


@pytest.mark.fault(
    "board",
    "used by hand alone, five minutes between presses, for a day and a half",
    "it answers whoever connects it; ticks with their times, then a gap",
)
@pytest.mark.usefixtures("on_pins")
def test_board_used_by_hand_for_days_can_be_reached() -> None:
    """Five minutes between presses, 400 of them, and no host: it greets then, and tells times and what it had no room
    for."""
    board = alone()
    for _ in range(400):
        press(board)
    assert len(board.board.outbox._queue) < 100
    hearing = heard_out(board)
    times = [tick.time_us for tick in hearing.ticks]
    assert [tick.tick for tick in hearing.ticks] == list(range(1, len(times) + 1))
    assert times == board.rising_edges_us[: len(times)]
    assert len(times) == 257
    assert hearing.ask("status").kind == "done"
    press(board)
    hearing.take()
    assert [(gap.first, gap.last) for gap in hearing.gaps] == [(258, 400)]
    assert (hearing.ticks[-1].tick, hearing.ticks[-1].time_us) == (401, board.rising_edges_us[-1])


@pytest.mark.fault(
    "board",
    "the reset button hundreds of times, and no host",
    "it answers whoever connects it; how many ticks were lost",
)
@pytest.mark.usefixtures("on_pins")
@pytest.mark.parametrize("resets", [63, 64, 65, 100, 300])
def test_board_that_was_reset_often_can_be_reached(resets: int) -> None:
    """So many presses of the reset button, and no host: it greets then, and every tick is told of or counted."""
    board = alone()
    for _ in range(resets):
        board.board.conductor.reset()
        board.run_until(board.now_us + 1_000_000)
    hearing = heard_out(board)
    unplaced = sum(event.count for event in hearing.events if isinstance(event, Unplaced))
    assert hearing.resets[-1].reset == resets
    assert len(hearing.ticks) + unplaced == board.board.clock.edges
    assert board.board.outbox.lost == unplaced


@pytest.mark.usefixtures("in_bursts")
def test_board_that_ran_and_was_halted_often_can_be_reached() -> None:
    """The run button at a million ticks a second, three hundred times, and no host."""
    settings = Settings()
    settings.rate_mhz = 1_000_000_000
    board = alone(settings)
    for _ in range(300):
        board.board.conductor.run_or_halt()
        board.run_until(board.now_us + 10_000)
    assert heard_out(board).ask("step", 1).kind == "done"


def test_host_that_greets_and_goes_can_come_again() -> None:
    """However much waits, whoever comes after a host that read little of it is answered."""
    board = alone()
    for nonce in range(1, 5):
        for _ in range(64):
            board.board.conductor.reset()
            board.run_until(board.now_us + 1_000_000)
        board.port.host_open()
        board.port.host_write(Session(nonce).greet()[1])
        board.run_until(board.now_us + 10)
        assert b"hello" in board.port.host_read()
        board.port.host_close()
        board.run_until(board.now_us + 1_000_000)


class Port:
    """A port that takes what there is, and keeps it."""

    def __init__(self) -> None:
        self.written = b""

    def write(self, data: bytes) -> int:
        self.written += data
        return len(data)


@given(steps=st.lists(st.tuples(st.integers(1, 500_000_000), st.sampled_from("trsw")), min_size=1, max_size=60))
def test_times_are_told_whole_whatever_comes_between(steps: list[tuple[int, str]]) -> None:
    """Ticks, reports, resets and lines written at random distances of up to eight minutes: every tick has its time."""
    outbox, port, session = Outbox(Ring(100)), Port(), Session(1)
    outbox.open = True
    outbox.say_now("hello", **alone().board._describe())
    now_us, reset, made = 0, 0, []
    for after_us, what in steps:
        now_us += after_us
        outbox.time.note(now_us & 0x3FFFFFFF)
        if what == "t":
            outbox.push(1, 2, now_us & 0x3FFFFFFF, 0)
            made.append(now_us)
        elif what == "r":
            reset += 1
            outbox.say_reset(reset, 0, len(made))
        elif what == "s":
            outbox.say("notice", what="spike", count=1, us=0)
        else:
            outbox.pump(port, 3)
    outbox.pump(port, 1000)
    told = [event.time_us for event in session.receive(port.written) if isinstance(event, Tick)]
    assert told == made


@pytest.mark.usefixtures("in_bursts")
def test_block_that_is_being_written_keeps_its_samples() -> None:
    """The reset button again and again while the host stalls in a block: a later burst does not write over it."""
    settings = Settings()
    settings.ring = 64
    board = VirtualBoard(Counter(), settings, port_room=100)
    hearing = Hearing(VirtualLink(board))
    hearing.ask("samples", "all")
    hearing.send("burst", 64, "100000")
    for _ in range(20):
        board.run_until(board.now_us + 1000)
        if board.board.outbox._block_ticks:
            break
        hearing.take()
    assert board.board.outbox._block_ticks
    for _ in range(36):
        board.board.conductor.reset()
        board.run_until(board.now_us + 100_000)
    board.board.conductor.burst(32, 100_000_000)
    for _ in range(2000):
        board.run_until(board.now_us + 1000)
        hearing.take()
    first = [(tick.early, tick.late) for tick in hearing.ticks if tick.reset == 0]
    assert first == [(number, number + 1) for number in range(32)]
    lost = board.board.outbox.lost
    assert [(event.count, event.why) for event in hearing.events if isinstance(event, Unplaced)] == [
        (lost, reasons.LOG_FULL)
    ]
    # All the room is there again.
    hearing.ask("burst", 200, "1000")
    assert sum(tick.reset == 36 for tick in hearing.ticks) >= 200


@pytest.mark.usefixtures("on_pins")
def test_every_command_is_answered_though_much_is_thrown_away() -> None:
    """A hundred commands while the host does not read, and a reset after which all that waits is thrown away: each has
    its answer, and the ticks that went are counted as lost."""
    board = VirtualBoard(Counter())
    hearing = Hearing(VirtualLink(board))
    board.port._room = 0
    asked = [hearing.send("reset")]
    for _ in range(100):
        asked.append(hearing.send("duty", 50))
        board.run_until(board.now_us)
    board.run_until(board.now_us + 20_000)
    board.port._room = 4096
    for _ in range(500):
        hearing.take()
        board.run_until(board.now_us + 1000)
    assert [len(hearing.answers(command_id)) for command_id in asked] == [1] * len(asked)
    unplaced = [(event.count, event.why) for event in hearing.events if isinstance(event, Unplaced)]
    assert unplaced == [(2, reasons.LOG_FULL)]
    assert board.board.outbox.lost == 2
    assert not any(isinstance(event, Gap) for event in hearing.events)
