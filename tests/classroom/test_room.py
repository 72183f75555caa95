"""The room: who may do what, told by what the clock was asked for."""

from __future__ import annotations

from typing import Any

import pytest

from handtick.classroom.asked import DEEDS, HOLDER, ONLY_TEACHER, Asked
from handtick.classroom.lesson import Lesson
from handtick.classroom.people import PUPIL, SCREEN, TEACHER, Person
from handtick.classroom.room import Room
from handtick.errors import Refused, UsageError
from handtick.events import Answer, Event, Gap, Greeting, Half, ResetDone, State, Tick
from handtick_wire import reasons
from tests.classroom.a_class import LESSON, WIRING

#: Good fields for everything that can be asked for.
FIELDS: dict[str, dict[str, Any]] = {
    "run": {"rate": "5"},
    "to": {"tick": 9},
    "call": {"bus": "data", "value": "2A", "reset": 0, "tick": 1},
    "note": {"text": "odd", "reset": 0, "tick": 0},
    "back": {"reset": 0, "last": 5},
    "give": {"person": 2},
    "allow": {"rate": "50", "reset": True, "notes": True},
    "ask": {"bus": "data"},
    "stop": {"place": 0},
    "remove": {"person": 2},
    "door": {"open": False},
}


class Class:
    """A room with a teacher, two pupils and a screen, whose clock only remembers what it was asked for."""

    def __init__(self, lesson: Lesson | None = None) -> None:
        self.asked: list[tuple[int | str, ...]] = []
        self.room = Room(WIRING, self, lesson)
        self.teacher = self.come("the teacher", TEACHER)
        self.mira = self.come("Mira", PUPIL)
        self.jon = self.come("Jon", PUPIL)
        self.screen = self.come("the screen", SCREEN)
        self.room.heard(Greeting(1, 0, 0, 0, {"mode": "rest"}))

    def send(self, kind: str, *values: int | str) -> None:
        """See ``room.Clock``."""
        self.asked.append((kind, *values))

    def come(self, name: str, role: str) -> Person:
        """Somebody joins."""
        person = self.room.join(name, role)
        self.room.here(person)
        return person

    def does(self, who: Person, do: str, /, **fields: Any) -> dict[str, Any] | None:
        """Somebody asks for something."""
        return self.room.take(who, Asked(do, fields or FIELDS.get(do, {})))

    def tick(self, number: int, late: int = 0, reset: int = 0) -> None:
        """A tick is heard."""
        self.room.heard(Tick(1, reset, number, 0, late, 0, 0))


DRIVING = [name for name, deed in DEEDS.items() if deed.who == HOLDER]
TEACHING = [name for name, deed in DEEDS.items() if deed.who == ONLY_TEACHER]


@pytest.mark.parametrize("do", DRIVING)
def test_only_the_holder_and_the_teacher_drive(do: str) -> None:
    """Whoever has not got the crank is told who has, and the clock is asked for nothing."""
    room = Class()
    for person in (room.mira, room.jon):
        with pytest.raises(Refused, match="the teacher has the crank"):
            room.does(person, do)
    assert room.asked == []
    room.does(room.teacher, do)
    room.does(room.teacher, "give", person=room.jon.number)
    room.asked.clear()
    with pytest.raises(Refused, match="Jon has the crank"):
        room.does(room.mira, do)
    assert room.asked == []


@pytest.mark.parametrize("do", TEACHING)
def test_the_teachers_desk_is_the_teachers(do: str) -> None:
    """Not even for the holder of the crank."""
    room = Class(LESSON)
    room.does(room.teacher, "give", person=room.mira.number)
    room.asked.clear()
    for person in (room.mira, room.jon):
        with pytest.raises(Refused, match="only the teacher"):
            room.does(person, do)
    assert room.asked == []


@pytest.mark.parametrize("do", [do for do in DEEDS if do != "back"])
def test_a_screen_only_watches(do: str) -> None:
    """It has the room word, and no name."""
    room = Class()
    with pytest.raises(Refused, match="a screen only watches"):
        room.does(room.screen, do)
    assert room.asked == []


def test_the_holder_drives() -> None:
    """Each deed asks the clock for exactly one thing."""
    room = Class()
    room.does(room.teacher, "give", person=room.mira.number)
    room.asked.clear()
    for do in ("step", "half", "run", "halt", "to"):
        room.does(room.mira, do)
    assert room.asked == [("step", 1), ("half",), ("run", "5"), ("halt",), ("to", 9, "20")]


def test_every_change_of_hands_finds_the_clock_at_rest() -> None:
    """Given, handed back, passed to the next, taken, and taken with its holder sent out."""
    room = Class()
    for person, do, fields in (
        (room.teacher, "give", {"person": room.mira.number}),
        (room.mira, "return", {}),
        (room.jon, "wait", {}),
        (room.teacher, "next", {}),
        (room.teacher, "take", {}),
        (room.teacher, "give", {"person": room.jon.number}),
        (room.teacher, "remove", {"person": room.jon.number}),
    ):
        room.asked.clear()
        room.does(person, do, **fields)
        assert room.asked == ([] if do == "wait" else [("halt",)]), do
    assert room.room.told()["holder_name"] == "the teacher"


def test_the_crank_of_somebody_who_is_gone_comes_back_and_the_clock_rests() -> None:
    """After the stated time; not while another of their windows is open."""
    room = Class()
    room.does(room.teacher, "give", person=room.mira.number)
    room.room.here(room.mira)
    room.room.away(room.mira, 100.0)
    room.asked.clear()
    room.room.pass_time(200.0)
    assert room.room.crank.holder == room.mira.number
    room.room.away(room.mira, 200.0)
    room.room.pass_time(209.0)
    assert room.asked == []
    room.room.pass_time(210.0)
    assert room.asked == [("halt",)]
    assert room.room.told()["holder"] is None


def test_pupils_keep_to_the_teachers_limit() -> None:
    """Above it they are told the limit; the teacher is not held to it."""
    room = Class()
    room.does(room.teacher, "give", person=room.mira.number)
    with pytest.raises(Refused, match="the teacher's limit is 20 Hz"):
        room.does(room.mira, "run", rate="20.001")
    with pytest.raises(UsageError):
        room.does(room.mira, "run", rate="fast")
    room.asked.clear()
    room.does(room.mira, "run", rate="20")
    room.does(room.teacher, "run", rate="5kHz")
    room.does(room.teacher, "allow", rate="100", reset=False, notes=True)
    room.does(room.mira, "run", rate="100")
    assert [what for what in room.asked if what[0] == "run"] == [("run", "20"), ("run", "5000"), ("run", "100")]


def test_reset_is_the_teachers_until_allowed() -> None:
    """A reset takes the tick everybody looks at away."""
    room = Class()
    room.does(room.teacher, "give", person=room.mira.number)
    room.asked.clear()
    with pytest.raises(Refused, match="does not let others reset"):
        room.does(room.mira, "reset")
    assert room.asked == []
    room.does(room.teacher, "allow", rate="20", reset=True, notes=True)
    room.does(room.mira, "reset")
    assert room.asked == [("reset",)]


def test_whoever_is_forgotten_waits_no_longer(monkeypatch: pytest.MonkeyPatch) -> None:
    """Where too many have joined, one who is gone is forgotten, and the row has nobody without a name in it."""
    room = Class()
    room.does(room.mira, "wait")
    room.does(room.jon, "wait")
    room.room.away(room.mira, 0.0)
    monkeypatch.setattr("handtick.classroom.people.MOST_KNOWN", 4)
    room.come("Ada", PUPIL)
    assert room.room.told()["waiting"] == [[room.jon.number, "Jon"]]


def test_a_call_is_for_the_next_tick_only() -> None:
    """One that comes after its tick, or half a tick too late, is refused."""
    room = Class()
    assert room.does(room.mira, "call") == {"called": {"bus": "data", "value": "2A", "tick": 1}}
    room.tick(1, late=0x2A)
    with pytest.raises(Refused, match="tick 1 has come already"):
        room.does(room.jon, "call")
    room.does(room.jon, "call", bus="data", value="0", reset=0, tick=2)
    room.room.heard(Half(1, 0, 2, "lead", 0, 0, 0))
    with pytest.raises(Refused, match="tick 2 has come already"):
        room.does(room.mira, "call", bus="data", value="0", reset=0, tick=2)
    with pytest.raises(Refused, match="tick 2 is half done; call the next one once it is over"):
        room.does(room.mira, "call", bus="data", value="0", reset=0, tick=3)
    (answer,) = room.room.told()["answers"]
    assert answer == {"tick": 1, "bus": "data", "value": "2A", "right": 1, "tally": [["2A", 1]]}


def test_what_was_called_is_nobodys_business_before_the_tick() -> None:
    """Everybody sees how many called; only oneself sees what."""
    room = Class()
    room.does(room.mira, "call")
    told = room.room.told()
    assert told["called"] == 1
    assert "2A" not in str(told)
    assert room.room.told_to(room.mira)["called"] == {"data": "2A"}
    assert room.room.told_to(room.jon)["called"] == {}


def test_a_reset_takes_open_calls_away() -> None:
    """The tick they were for does not come."""
    room = Class()
    room.does(room.mira, "call")
    room.room.heard(ResetDone(1, 1, 0, 0))
    room.tick(1, late=0x2A, reset=1)
    assert room.room.told()["answers"] == []


def test_notes_go_to_their_tick_under_the_name_of_who_wrote_them() -> None:
    """Where the teacher lets them; an empty one says nothing."""
    room = Class()
    room.tick(7)
    assert room.does(room.mira, "note", text=" odd\nvalue ", reset=0, tick=7) == {"said": "noted at tick 7"}
    assert room.asked == [("note", "Mira: odd value", 0, 7)]
    with pytest.raises(UsageError):
        room.does(room.mira, "note", text=" ", reset=0, tick=7)
    room.does(room.teacher, "allow", rate="20", reset=False, notes=False)
    with pytest.raises(Refused):
        room.does(room.mira, "note")


def test_looking_back_disturbs_nobody() -> None:
    """Earlier ticks come to whoever asks; the clock is asked for nothing."""
    room = Class()
    for number in range(1, 201):
        room.tick(number)
    back = room.does(room.mira, "back", reset=0, last=100)
    assert back is not None
    assert [tick["tick"] for tick in back["back"]] == list(range(37, 101))
    assert room.does(room.mira, "back", reset=5, last=100) == {"back": [], "reset": 5, "last": 100}
    assert room.asked == []


def test_a_closed_door_lets_nobody_in_but_the_teacher() -> None:
    """And those inside stay."""
    room = Class()
    room.does(room.teacher, "door", open=False)
    with pytest.raises(Refused, match="lets nobody in"):
        room.come("Ada", PUPIL)
    room.come("the teacher", TEACHER)
    room.does(room.mira, "wait")


def test_somebody_who_was_sent_out_does_nothing_more() -> None:
    """Their seat is no longer theirs."""
    room = Class()
    room.does(room.teacher, "remove", person=room.mira.number)
    with pytest.raises(Refused, match="no longer in the room"):
        room.does(room.mira, "wait")
    assert room.room.people.sits(room.mira.seat) is None
    with pytest.raises(Refused):
        room.does(room.teacher, "remove", person=room.teacher.number)


def test_two_of_one_name_are_told_apart() -> None:
    """And a name is one line of what can be seen."""
    room = Class()
    assert room.come("mira", PUPIL).name == "mira (2)"
    assert room.come(" Mira\u202e\n x ", PUPIL).name == "Mira x"
    with pytest.raises(UsageError):
        room.come("\u200b", PUPIL)


def test_a_stop_of_the_lesson_is_gone_to() -> None:
    """Forward straight on; backward over a reset, and not before that is done."""
    room = Class(LESSON)
    room.does(room.teacher, "stop", place=1)
    assert room.asked == [("halt",), ("to", 3, "20")]
    told = room.room.told()
    assert told["asked"] == "data"
    assert "Who gives next" in told["lesson"]["say"]
    for number in range(1, 6):
        room.tick(number)
    room.asked.clear()
    room.does(room.teacher, "stop", place=1)
    assert room.asked == [("halt",), ("reset",)]
    room.room.heard(ResetDone(1, 1, 5, 5))
    assert room.asked == [("halt",), ("reset",), ("to", 3, "20")]
    with pytest.raises(Refused, match="no such stop"):
        room.does(room.teacher, "stop", place=9)


def test_everybody_sees_the_first_tick_that_differs_from_the_lesson() -> None:
    """At once, as it is news of the room, and until the machine is reset."""
    room = Class(LESSON)
    room.room.changed = False
    room.tick(1)
    assert room.room.changed
    room.room.changed = False
    room.tick(2)
    assert not room.room.changed
    difference = room.room.told()["lesson"]["difference"]
    assert difference == {"tick": 1, "lines": [["data", "ED", "00"], ["fetch", "1", "0"]]}
    room.room.heard(ResetDone(1, 1, 1, 1))
    assert room.room.told()["lesson"]["difference"] is None


def test_another_start_of_the_board_is_a_new_beginning() -> None:
    """Calls for a tick of the old one are dropped, and its ticks are no longer shown."""
    room = Class()
    room.tick(1)
    room.does(room.mira, "call", bus="data", value="1", reset=0, tick=2)
    room.room.heard(Greeting(2, 0, 0, 0, {"mode": "rest"}))
    assert room.room.told()["called"] == 0
    assert room.room.news.whole()["new"] == []


REFUSED = "refused: that tick has gone by; reset the machine to reach it again"


@pytest.mark.parametrize(
    "success",
    [
        Answer(2, "done", "", 6, 6),
        State(1, 0, 5, 5, "moving", "asked", "run", 0, "10"),
        ResetDone(1, 1, 5, 5),
    ],
    ids=["done", "a run begins", "reset"],
)
def test_a_refusal_is_said_until_something_succeeds(success: Event) -> None:
    """Whatever succeeds; a tick or a rest of what went on before does not take it away."""
    room = Class()
    room.room.heard(Answer(1, "refused", reasons.BEHIND))
    room.tick(5)
    room.room.heard(State(1, 0, 5, 5, "rest", "count", "", 0))
    assert room.room.news.whole()["said"] == REFUSED
    room.room.heard(success)
    assert room.room.news.whole()["said"] == ""


def test_what_else_is_said_stays_when_something_succeeds() -> None:
    """A note that was taken, or ticks without samples, are no failure."""
    room = Class()
    room.room.heard(Answer(1, "refused", reasons.BEHIND))
    room.room.heard(Gap(1, 0, 4, 6, "link"))
    room.room.heard(Answer(2, "failed", reasons.HALTED, 7, 7))
    room.room.heard(Answer(3, "done", "", 8, 8))
    assert room.room.news.whole()["said"] == "ticks 4 to 6 have no samples"
