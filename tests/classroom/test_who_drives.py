"""Nobody but the teacher and whoever has the crank moves the clock, whatever anybody sends in whatever order."""

from __future__ import annotations

import contextlib
import itertools
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.classroom.asked import DEEDS, HOLDER, Asked
from handtick.classroom.people import PUPIL, SCREEN, TEACHER, Person
from handtick.classroom.room import Room
from handtick.errors import HandtickError, Refused
from handtick.events import Answer, Greeting, ResetDone, Tick
from tests.classroom.a_class import LESSON, WIRING

GREETING = Greeting(1, 0, 0, 0, {"mode": "rest"})


class PaperClock:
    """A clock that writes down what is asked of it."""

    def __init__(self) -> None:
        self.asked: list[tuple[str, tuple[int | str, ...]]] = []

    def send(self, kind: str, *values: int | str) -> None:
        """Somebody asks for something."""
        self.asked.append((kind, values))

    def moves(self) -> list[str]:
        """What was asked since this was last called, but for notes."""
        asked, self.asked = self.asked, []
        return [kind for kind, _ in asked if kind != "note"]


def room() -> tuple[Room, PaperClock, Person]:
    """A room with a lesson, whose board is there; its clock, and its teacher."""
    clock = PaperClock()
    there = Room(WIRING, clock, LESSON)
    there.heard(GREETING)
    teacher = there.join("the teacher", TEACHER)
    there.here(teacher)
    return there, clock, teacher


def pupil(there: Room, name: str = "Wren", role: str = PUPIL) -> Person:
    """Somebody who has come in."""
    person = there.join(name, role)
    there.here(person)
    return person


def tick(number: int, reset: int = 0) -> Tick:
    """A tick of the board."""
    return Tick(1, reset, number, 0, 0, number, 0)


def on_the_way_back() -> tuple[Room, PaperClock, Person]:
    """A room whose teacher has asked for a stop that lies behind, with the reset still to come."""
    there, clock, teacher = room()
    there.heard(tick(LESSON.stops[0].tick + 1))
    there.take(teacher, Asked("stop", {"place": 0}))
    assert clock.moves() == ["halt", "reset"]
    return there, clock, teacher


def test_a_stop_that_lies_behind_is_gone_to_after_the_reset() -> None:
    """The machine is reset, then the clock goes to the stop."""
    there, clock, _ = on_the_way_back()
    there.heard(ResetDone(1, 1, 4, 8))
    assert clock.moves() == ["to"]
    there.heard(ResetDone(1, 2, 4, 8))
    assert clock.moves() == []


@pytest.mark.parametrize("instead", ["halt", "give", "refused", "another board"])
def test_a_stop_is_off_when_anything_else_comes_between(instead: str) -> None:
    """A clock that was halted, handed on or lost on the way to a stop does not set off by itself later."""
    there, clock, teacher = on_the_way_back()
    if instead == "halt":
        there.take(teacher, Asked("halt", {}))
    elif instead == "give":
        there.take(teacher, Asked("give", {"person": pupil(there).number}))
    elif instead == "refused":
        there.heard(Answer(7, "refused", "busy", 4, 8))
    else:
        there.heard(GREETING)
    clock.moves()
    there.heard(ResetDone(1, 1, 4, 8))
    assert clock.moves() == []


NUMBERS = st.integers(0, 12) | st.sampled_from([2**63 - 1, 2**40])
TEXTS = st.sampled_from(["", "1", "20", "1MHz", "-1", "fetch", "data", "0x1", "take", "\x1b[2J", "\ud800"]) | st.text(
    max_size=8
)
OF_KIND: dict[type, st.SearchStrategy[Any]] = {int: NUMBERS, str: TEXTS, bool: st.booleans()}
ASKED = st.sampled_from(sorted(DEEDS)).flatmap(
    lambda do: st.builds(
        Asked, st.just(do), st.fixed_dictionaries({name: OF_KIND[kind] for name, kind in DEEDS[do].fields.items()})
    )
)
EVENTS = st.sampled_from(
    [GREETING, ResetDone(1, 1, 4, 8), Answer(9, "refused", "busy"), Answer(9, "done")]
) | st.builds(tick, st.integers(1, 9), st.integers(0, 2))
PLACES = st.integers(0, 4)
MOVES = (
    st.tuples(PLACES, ASKED)
    | st.tuples(st.just("heard"), EVENTS)
    | st.tuples(st.sampled_from(["away", "here", "joins"]), PLACES)
    | st.tuples(st.just("time"), st.integers(1, 12))
)


def with_the_crank(place: int, then: str) -> list[tuple[Any, Any]]:
    """Somebody has the crank, and goes away for long, or is sent out."""
    given = (0, Asked("give", {"person": place + 1}))
    if then == "away":
        return [given, ("away", place), ("time", 12)]
    return [given, (0, Asked(then, {"person": place + 1} if then == "remove" else {}))]


CHAINS = st.builds(with_the_crank, st.integers(1, 3), st.sampled_from(["away", "remove", "take"]))


@settings(max_examples=300)
@given(st.lists(CHAINS | st.lists(MOVES, max_size=8), max_size=12))
def test_only_the_teacher_and_the_holder_move_the_clock(moves: list[list[tuple[Any, Any]]]) -> None:
    """Every command to the clock was asked for by one of the two, or is the halt that goes with a change of hands."""
    there, clock, teacher = room()
    people = [teacher, *(pupil(there, name) for name in ("Wren", "Finch", "Swift")), pupil(there, "screen", SCREEN)]
    now_s = 0.0
    # Whether the last thing that anybody did to the clock is a stop of the lesson.
    to_stop = False
    for what, with_it in itertools.chain(*moves):
        holder = there.crank.holder
        may: set[str] = set()
        if isinstance(what, int):
            person, asked = people[what], with_it
            drives = person.teacher or person.number == holder
            if drives and DEEDS[asked.do].who == HOLDER and there.people.known.get(person.number) is person:
                may = {asked.do}
            elif person.teacher and asked.do == "stop":
                may = {"halt", "to", "reset"}
            before = list(clock.asked)
            try:
                there.take(person, asked)
            except HandtickError:
                assert clock.asked == before, "refused, and yet done"
        elif what == "heard":
            may = {"to"} if to_stop and isinstance(with_it, ResetDone) else set()
            there.heard(with_it)
        else:
            now_s = happen(there, people, what, with_it, now_s)
        asked_of_it = clock.moves()
        if there.crank.holder != holder:
            assert asked_of_it[-1:] == ["halt"], "a change of hands without a halt"
            may = may | {"halt"}
        assert set(asked_of_it) <= may, (what, with_it)
        if asked_of_it:
            to_stop = isinstance(what, int) and with_it.do == "stop"


def happen(there: Room, people: list[Person], what: str, much: int, now_s: float) -> float:
    """Somebody goes, comes back or comes anew, or time passes; returns the time it then is."""
    if what == "time":
        there.pass_time(now_s + much)
        return now_s + much
    person = people[much]
    if what == "joins":
        with contextlib.suppress(Refused):  # the door may be closed
            people[much] = pupil(there, person.name, person.role)
    elif what == "away" and person.here:
        there.away(person, now_s)
    elif what == "here":
        there.here(person)
    return now_s


def test_whoever_was_sent_out_asks_for_nothing_more() -> None:
    """Sent out with the crank in hand, the clock comes to rest and stays there."""
    there, clock, teacher = room()
    wren = pupil(there)
    there.take(teacher, Asked("give", {"person": wren.number}))
    there.take(teacher, Asked("remove", {"person": wren.number}))
    assert clock.moves() == ["halt", "halt"]
    with pytest.raises(Refused, match="no longer in the room"):
        there.take(wren, Asked("step", {}))
    assert clock.moves() == []


@pytest.mark.parametrize(("live", "reset", "number"), [(False, 0, 1), (True, 0, 3), (True, 1, 0), (True, 2**63 - 1, 1)])
def test_a_note_that_can_not_be_kept_is_refused(live: bool, reset: int, number: int) -> None:
    """Nobody is told that something was noted on a tick that never came, or in a log that is only shown."""
    clock = PaperClock()
    there = Room(WIRING, clock, live=live)
    there.heard(GREETING)
    there.heard(tick(2))
    with pytest.raises(Refused, match=r"has not come yet|takes no notes"):
        there.take(pupil(there), Asked("note", {"text": "here", "reset": reset, "tick": number}))
    assert clock.asked == []
