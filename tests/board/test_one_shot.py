"""One press in, one tick out, whatever the contact does."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.virtual.board import VirtualBoard
from handtick_board.one_shot import OneShot
from handtick_board.us_time import wrapped
from tests.board.still_machine import StillMachine
from tests.board.trains import LONG_HOLD, SHORT_PRESS, SPIKE, TWO_PRESSES, Train, trains

#: Times at which a board may have been running when the press comes: just started, where a millisecond counter
#: wraps, at the wrap of board time, after a day, after 6.3 days.
UPTIMES_US = [0, 65_500_000, (1 << 30) - 1500, (1 << 30) - 251_800, 86_400_000_000, 544_320_000_000]

CASES = [
    ("a short press whose edges both bounce", SHORT_PRESS, 400_000, [1100]),
    ("a five-second hold with a dirty release", LONG_HOLD, 5_200_000, [600]),
    ("a three-microsecond spike", SPIKE, 100_000, []),
    ("two quick presses", TWO_PRESSES, 300_000, [1100, 131_100]),
]


def ticks_by_rule(train: Train, end_us: int, press_us: int, rearm_us: int) -> list[int]:
    """The rule as it is written, worked out from whole closures and openings, with no state machine.

    It fires once a closure has lasted the press time; it can fire again only in a closure that follows an opening that
    lasted the re-arm time. Before the first press it can fire if the contact was open at the start.
    """
    spans = [
        (start, end, level)
        for (start, level), end in zip(train, [at_us for at_us, _ in train[1:]] + [end_us], strict=True)
    ]
    ticks: list[int] = []
    may_fire = train[0][1] == 0
    for start, end, level in spans:
        if level == 0:
            may_fire = may_fire or end - start >= rearm_us
        elif may_fire and end - start >= press_us:
            ticks.append(start + press_us)
            may_fire = False
    return ticks


def ticks_of(one_shot: OneShot, train: Train, end_us: int, from_us: int = 0) -> int:
    """How many ticks the one-shot makes, fed with the edges alone and looked at when it asks to be."""
    fired = 0
    for (at_us, level), next_us in zip(train, [at_us for at_us, _ in train[1:]] + [end_us], strict=True):
        fired += one_shot.edge(wrapped(from_us + at_us), bool(level))
        due_us = one_shot.due_us()
        while due_us is not None and wrapped(due_us - from_us) <= next_us:
            fired += one_shot.poll(wrapped(due_us))
            due_us = one_shot.due_us() if one_shot.due_us() != due_us else None
    return fired + one_shot.poll(wrapped(from_us + end_us))


@pytest.mark.fault(
    "person",
    "contacts that bounce, at any uptime up to 6.3 days",
    "one tick a press",
)
@pytest.mark.parametrize("uptime_us", UPTIMES_US)
@pytest.mark.parametrize(("name", "train", "end_us", "expected"), CASES, ids=[case[0] for case in CASES])
def test_press_makes_one_tick_at_its_time(
    name: str, train: Train, end_us: int, expected: list[int], uptime_us: int
) -> None:
    """Each press makes one rising edge, 100 us after its first firm contact, however long the board has been on."""
    board = VirtualBoard(StillMachine(), start_us=uptime_us)
    board.press(train, uptime_us)
    board.run_until(uptime_us + end_us)
    assert [edge_us - uptime_us for edge_us in board.rising_edges_us] == expected
    assert board.board.clock.edges == len(expected)


def test_spike_is_counted() -> None:
    """A closure too short to be a press makes no tick and is counted."""
    one_shot = OneShot()
    assert ticks_of(one_shot, SPIKE, 100_000) == 0
    assert one_shot.spikes == 1


def test_counters_tell_of_the_worst_bounce() -> None:
    """After a press with a dirty release, the counters tell its longest gap and its longest bounce."""
    one_shot = OneShot()
    ticks_of(one_shot, LONG_HOLD, 5_200_000)
    assert one_shot.longest_gap_us == 5_600
    assert one_shot.longest_bounce_us == 5_012_620 - 5_000_500


@pytest.mark.fault(
    "person",
    "the button held while the board starts",
    "no tick until the next press",
)
def test_button_held_at_the_start_waits_for_its_release() -> None:
    """A button that is down when the board starts makes no tick until it has been let go for the re-arm time."""
    stuck = [(0, 1), (3_000_000, 0), (3_010_000, 1), (3_200_000, 0)]
    assert ticks_of(OneShot(), stuck, 3_219_000) == 0
    assert ticks_of(OneShot(), [*stuck, (3_220_000, 1)], 3_300_000) == 1


def test_hold_of_half_an_hour_is_one_tick() -> None:
    """A button held for longer than board time goes round is one press, and so is the next one."""
    held_us = 1_800_000_000
    board = VirtualBoard(StillMachine())
    board.press([(1000, 1), (held_us, 0), (held_us + 30_000, 1), (held_us + 90_000, 0)])
    board.run_until(held_us + 200_000)
    assert board.rising_edges_us == [1100, held_us + 30_100]


@given(train=trains(), press_us=st.sampled_from([1, 100, 250]), rearm_us=st.sampled_from([300, 20_000]))
def test_any_train_ticks_as_the_rule_says(train: Train, press_us: int, rearm_us: int) -> None:
    """Whatever the contact does, the ticks are those of the rule as it is written."""
    end_us = train[-1][0] + 50_000
    one_shot = OneShot(press_us, rearm_us)
    assert ticks_of(one_shot, train, end_us) == len(ticks_by_rule(train, end_us, press_us, rearm_us))


@given(train=trains(), uptime_us=st.sampled_from(UPTIMES_US), looks=st.lists(st.integers(0, 2_000_000), max_size=30))
def test_looking_at_any_moment_changes_nothing(train: Train, uptime_us: int, looks: list[int]) -> None:
    """However often and whenever the loop comes by, stamped edges make the same ticks."""
    end_us = train[-1][0] + 50_000
    one_shot = OneShot()
    moments = sorted([(at_us, level) for at_us, level in train] + [(at_us, -1) for at_us in looks if at_us <= end_us])
    fired = 0
    for at_us, level in moments:
        now_us = wrapped(uptime_us + at_us)
        fired += one_shot.poll(now_us) if level < 0 else one_shot.edge(now_us, bool(level))
    fired += one_shot.poll(wrapped(uptime_us + end_us))
    assert fired == len(ticks_by_rule(train, end_us, 100, 20_000))


@given(train=trains(most=20, found=0))
def test_every_tick_reaches_the_clock_line_at_its_time(train: Train) -> None:
    """Each press the rule sees is one rising edge on the pin; ticks asked for while one is being made come after it."""
    end_us = train[-1][0] + 500_000
    board = VirtualBoard(StillMachine())
    board.press(train)
    board.run_until(end_us)
    expected = ticks_by_rule(train, end_us, 100, 20_000)
    assert board.rising_edges_us == expected
