"""The PIO program that stamps the tick button's edges, run cycle by cycle on an emulator."""

import array
import itertools
import random

import adafruit_pioasm
import pytest
from pioemu import State, conditions, emulate

from handtick_board import edge_stamps, stamps_source
from handtick_board.edge_stamps import StampReader

CYCLES_PER_US = edge_stamps.FREQUENCY_HZ // 1_000_000


def stamps_of(levels: list[tuple[int, int]], for_us: int, x: int = 0xFFFFFFFF) -> list[tuple[int, bool | None]]:
    """Runs the program on a contact with (microsecond, level) changes; returns what the reader makes of its words."""

    def level_at(cycle: int) -> int:
        level = levels[0][1]
        for at_us, to in levels:
            if cycle >= at_us * CYCLES_PER_US:
                level = to
        return level

    words: list[int] = []
    for _, state in emulate(
        list(edge_stamps.WORDS),
        stop_when=conditions.clock_cycles_reached(for_us * CYCLES_PER_US),
        initial_state=State(x_register=x, y_register=0xFFFFFFFF),
        input_source=level_at,
        jmp_pin=0,
        auto_push=True,
        push_threshold=32,
        shift_isr_right=False,
        wrap_top=len(edge_stamps.WORDS) - 1,
    ):
        while state.receive_fifo:
            words.append(state.receive_fifo.popleft())
    halves = [half for word in words for half in (word & 0xFFFF, word >> 16)]
    return StampReader(array.array("H", [*halves, 0, 0])).take()


@pytest.mark.parametrize(
    ("source", "words"),
    [
        (stamps_source.SOURCE, edge_stamps.WORDS),
        (stamps_source.START_SOURCE, edge_stamps.START_WORDS),
    ],
)
def test_words_on_the_board_are_the_text_assembled(source: str, words: list[int]) -> None:
    """The words shipped to the board are what the text beside them assembles to."""
    assert list(adafruit_pioasm.assemble(source)) == list(words)


def test_bouncing_press_is_stamped_to_two_microseconds() -> None:
    """Every edge of a bouncing press is stamped, in order, within two microseconds of when it came."""
    train = [(0, 1), (100, 0), (280, 1), (400, 0), (520, 1), (800, 0), (2800, 1)]
    stamps = stamps_of(train, 3000)
    assert [closed for _, closed in stamps] == [level == 0 for _, level in train]
    assert all(-1 <= stamp - edge <= 2 for (stamp, _), (edge, _) in zip(stamps, train, strict=True))


def test_stamps_keep_time_over_many_edges() -> None:
    """After hundreds of edges at random distances, the last stamp is as exact as the first."""
    rng = random.Random(5)
    train, at_us, level = [(0, 1)], 0, 1
    for _ in range(300):
        at_us += rng.randint(3, 40)
        level = 1 - level
        train.append((at_us, level))
    stamps = stamps_of(train, at_us + 20)
    assert len(stamps) == len(train)
    assert all(-1 <= stamp - edge <= 2 for (stamp, _), (edge, _) in zip(stamps, train, strict=True))


def test_count_that_passes_zero_keeps_time() -> None:
    """When the program's counter passes zero, the stamps go on without a break."""
    train = [(0, 1), (10, 0), (20, 1), (30, 0), (45, 1), (70, 0)]
    stamps = stamps_of(train, 100, x=25)
    gaps = [(later[0] - earlier[0]) & 0x3FFFFFFF for earlier, later in itertools.pairwise(stamps)]
    assert gaps == pytest.approx([10, 10, 10, 15, 25], abs=2)


@pytest.mark.parametrize("x", range(60))
def test_no_stamp_is_missed_where_the_count_passes_zero(x: int) -> None:
    """An edge at the very moment when the count is zero, once in eighteen minutes, is an edge like every other."""
    train = [(0, 1), (10, 0), (20, 1), (30, 0), (45, 1), (59, 0)]
    assert [closed for _, closed in stamps_of(train, 100, x)] == [level == 0 for _, level in train]


def test_no_edge_no_stamp() -> None:
    """A contact that stays closed from the start is silent once it has begun."""
    assert stamps_of([(0, 0)], 500) == []


@pytest.mark.parametrize("level", [0, 1])
def test_first_word_says_where_the_contact_stands(level: int) -> None:
    """Before the program the state machine hands out one word, of the moment from which the count goes down."""
    *_, (_, state) = emulate(
        list(edge_stamps.START_WORDS),
        stop_when=conditions.clock_cycles_reached(len(edge_stamps.START_WORDS)),
        initial_state=State(),
        input_source=lambda _: level,
        auto_push=True,
        push_threshold=32,
        shift_isr_right=False,
        wrap_top=len(edge_stamps.START_WORDS) - 1,
    )
    (word,) = state.receive_fifo
    assert (state.x_register, state.y_register) == (0xFFFFFFFF, 0xFFFFFFFF)
    assert StampReader(array.array("H", [word & 0xFFFF, word >> 16, 0, 0])).take() == [(0, level == 0)]


def test_stamps_are_taken_once_and_round_the_ring() -> None:
    """What has been taken does not come again, and the ring's end is no end."""
    ring = array.array("H", [0] * 8)
    reader = StampReader(ring)
    taken = []
    for number in range(7):
        at = 2 * number % len(ring)
        ring[at], ring[at + 1] = 0xFFFF - 4 * number, 0xFFFF
        taken += reader.take(offset_us=100)
    assert taken == [(100 + number, False) for number in range(7)]
    assert reader.take() == []
