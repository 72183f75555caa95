"""What must hold on the clock line whatever the hand, the host, the machine and the loop do, in any order."""

from __future__ import annotations

import itertools
import random
from dataclasses import dataclass

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.events import Gap, ResetDone, Tick
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board.settings import Settings
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter

pytestmark = pytest.mark.usefixtures("on_pins")

STEP_US = 1000
#: Rates in ticks a second, each with the length of its phases in microseconds.
RATES = {"1000": 500, "333.333": 1500, "50": 10_000, "2": 250_000}
SHORTEST_US = min(STEP_US, *RATES.values())


@dataclass(frozen=True)
class Deed:
    """Something that somebody does ``after_us`` microseconds after the deed before it."""

    after_us: int
    kind: str
    detail: object


def deeds() -> st.SearchStrategy[list[Deed]]:
    """Commands good and bad, presses, halts, cables pulled, a host that stops reading; at any distance."""
    after_us = st.one_of(st.integers(0, 3000), st.integers(3000, 60_000), st.sampled_from([0, 500, 1000, 10_000]))
    count = st.integers(1, 40) | st.just(0)
    rate = st.sampled_from(sorted(RATES))
    command = st.one_of(
        st.tuples(st.just("step"), count),
        st.tuples(st.just("half")),
        st.tuples(st.just("run"), rate),
        st.tuples(st.just("burst"), count, rate),
        st.tuples(st.just("to"), st.integers(0, 80), rate),
        st.tuples(st.just("rate"), rate),
        st.tuples(st.just("halt")),
        st.tuples(st.just("reset")),
        st.tuples(st.just("status")),
        st.tuples(st.just("jump"), count),
        st.tuples(st.just("run"), st.just("fast")),
    )
    bounce = st.lists(st.integers(1, 1500), min_size=1, max_size=9)
    kinds = st.one_of(
        st.tuples(st.just("command"), command),
        st.tuples(st.just("command twice"), command),
        st.tuples(st.just("press"), bounce),
        st.tuples(st.just("halt line"), st.sampled_from([True, False, None])),
        st.tuples(st.just("run button"), st.none()),
        st.tuples(st.just("garbage"), st.binary(max_size=30)),
        st.tuples(st.just("read"), st.none()),
    )
    return st.lists(st.builds(lambda us, kind: Deed(us, *kind), after_us, kinds), min_size=6, max_size=40)


class Rig:
    """A board with everything that can happen to it, and a host that notes what it hears."""

    def __init__(self, chosen: Settings, late_us: list[int]) -> None:
        turns = iter(late_us * 5000) if late_us else None
        self.board = VirtualBoard(Counter(), chosen, lateness=(lambda: next(turns, 0)) if turns else None)
        self.link = VirtualLink(self.board)
        self.hearing = Hearing(self.link)

    def do(self, deed: Deed) -> None:
        """Does one deed, at its time."""
        board = self.board
        board.run_until(board.now_us + deed.after_us)
        detail = deed.detail
        if deed.kind.startswith("command"):
            assert isinstance(detail, tuple)
            _command_id, line = self.hearing.session.command(*detail)
            board.port.host_write(line * (2 if deed.kind == "command twice" else 1))
        elif deed.kind == "press":
            assert isinstance(detail, list)
            at_us, closed, train = 0, 1, []
            for width_us in detail:
                train.append((at_us, closed))
                at_us, closed = at_us + width_us, 1 - closed
            board.press([*train, (at_us, 1), (at_us + 5000, 0)], board.now_us)
        elif deed.kind == "halt line":
            board.halt_pin.forced = detail  # type: ignore[assignment]
        elif deed.kind == "run button":
            board.board.conductor.run_or_halt()
        elif deed.kind == "garbage":
            assert isinstance(detail, bytes)
            board.port.host_write(detail.replace(b"@", b"?") + b"\n")
        else:
            self.hearing.take()
        board.run_until(board.now_us)

    def finish(self) -> None:
        """Lets the last press play out, halts, and hears everything that is still on its way."""
        self.board.halt_pin.forced = False
        self.board.run_until(self.board.now_us + 20_000)
        self.hearing.ask("halt")
        while not self.board.board.outbox.idle:
            self.hearing.take()
            self.board.run_until(self.board.now_us + 1000)
        self.hearing.take()


def chosen_settings(draw: st.DataObject) -> Settings:
    """Any rest level, active edge, small ring and answer to a full ring."""
    chosen = Settings()
    chosen.rest_high = draw.draw(st.booleans(), "rests high")
    chosen.active_falling = draw.draw(st.booleans(), "falling edge clocks")
    chosen.ring = draw.draw(st.sampled_from([16, 40, 4096]), "ring")
    chosen.when_full = draw.draw(st.sampled_from(["pause", "free"]), "when full")
    chosen.step_us = STEP_US
    return chosen


@settings(max_examples=200)
@given(data=st.data(), plan=deeds(), late_us=st.lists(st.integers(0, 900), max_size=20))
def test_edges_on_the_pin_are_the_edges_counted_and_none_is_short(
    data: st.DataObject, plan: list[Deed], late_us: list[int]
) -> None:
    """For any order and time of commands, presses, halts, rate changes and resets: active edges on the pin are the edge
    count, no phase is shorter than the shortest asked for, and in the end the line is at its rest level."""
    chosen = chosen_settings(data)
    rig = Rig(chosen, late_us)
    for deed in plan:
        rig.do(deed)
    rig.finish()
    judge_line(rig, chosen)


@pytest.mark.parametrize("seed", range(12))
def test_long_evenings_leave_no_edge_uncounted(seed: int) -> None:
    """The same for long evenings: hundreds of deeds in a row, thousands of ticks."""
    chance = random.Random(seed)
    chosen = Settings()
    chosen.step_us = STEP_US
    chosen.rest_high, chosen.active_falling = seed & 1 == 1, seed & 2 == 2
    chosen.ring = chance.choice([16, 40, 4096])
    chosen.when_full = chance.choice(["pause", "free"])
    rig = Rig(chosen, [chance.randrange(900) for _ in range(20)])
    for _ in range(400):
        rig.do(chance_deed(chance))
        if rig.board.halt_pin.forced and chance.random() < 0.5:
            rig.board.halt_pin.forced = False
    rig.finish()
    judge_line(rig, chosen)
    assert rig.board.board.clock.edges > 500


def chance_deed(chance: random.Random) -> Deed:
    """A deed as an evening brings them: mostly commands that have time to do something."""
    rate = chance.choice(["1000", "333.333", "50"])
    commands: list[tuple[object, ...]] = [
        ("step", chance.randrange(40)),
        ("half",),
        ("run", rate),
        ("burst", chance.randrange(1, 40), rate),
        ("to", chance.randrange(1, 400), rate),
        ("rate", rate),
        ("halt",),
        ("reset",) if chance.random() < 0.1 else ("status",),
    ]
    kind = chance.choice(["command", "command", "command twice", "press", "halt line", "run button", "read"])
    details: dict[str, object] = {
        "press": [chance.randrange(1, 1500) for _ in range(chance.randrange(1, 9))],
        "halt line": chance.choice([True, False, None]),
    }
    detail = details.get(kind, chance.choice(commands) if kind.startswith("command") else None)
    return Deed(chance.choice([0, 700, 5000, 40_000]), kind, detail)


def judge_line(rig: Rig, chosen: Settings) -> None:
    """Active edges are the edge count, no phase is short, and the line is at rest."""
    edges = rig.board.line.edges
    active = [at_us for at_us, level in edges if level != chosen.active_falling]
    assert len(active) == rig.board.board.clock.edges
    widths = [later[0] - earlier[0] for earlier, later in itertools.pairwise(edges)]
    assert all(width >= SHORTEST_US for width in widths), min(widths)
    assert rig.board.line.value == chosen.rest_high
    assert rig.board.board.conductor.mode == "rest"


@settings(max_examples=200)
@given(data=st.data(), plan=deeds())
def test_ticks_told_and_gaps_told_are_all_ticks_made(data: st.DataObject, plan: list[Deed]) -> None:
    """Whatever happens, every tick made is either told with its samples or told to be missing, once."""
    rig = Rig(chosen_settings(data), [])
    for deed in plan:
        rig.do(deed)
    rig.finish()
    numbers: dict[int, list[int]] = {}
    for event in rig.hearing.events:
        if isinstance(event, Tick):
            numbers.setdefault(event.reset, []).append(event.tick)
        elif isinstance(event, Gap):
            numbers.setdefault(event.reset, []).extend(range(event.first, event.last + 1))
    ends = {event.reset - 1: event.last_tick for event in rig.hearing.events if isinstance(event, ResetDone)}
    ends[rig.board.board.conductor.reset_number] = rig.board.board.clock.tick
    for reset, last_tick in ends.items():
        assert numbers.get(reset, []) == list(range(1, last_tick + 1)), reset
    assert sum(map(len, numbers.values())) == rig.board.board.clock.edges


@given(plan=deeds())
def test_samples_told_are_what_the_machine_showed(plan: list[Deed]) -> None:
    """The samples of each tick are what the probes held before its edge and after it, whatever else goes on."""
    rig = Rig(Settings(), [])
    for deed in plan:
        if not (deed.kind.startswith("command") and isinstance(deed.detail, tuple) and deed.detail[0] == "reset"):
            rig.do(deed)
    rig.finish()
    for place, tick in enumerate(rig.hearing.ticks):
        assert (tick.early, tick.late) == (place, place + 1)


@given(plan=deeds())
def test_commands_said_twice_do_nothing_twice(plan: list[Deed]) -> None:
    """A plan in which every command arrives twice makes the same edges at the same times as when each arrives once."""
    once, twice = Rig(Settings(), []), Rig(Settings(), [])
    for deed in plan:
        if deed.kind == "garbage":
            continue
        kind = "command" if deed.kind.startswith("command") else deed.kind
        once.do(Deed(deed.after_us, kind, deed.detail))
        twice.do(Deed(deed.after_us, "command twice" if kind == "command" else kind, deed.detail))
    assert once.board.line.edges == twice.board.line.edges
