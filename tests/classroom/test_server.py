"""The class over real sockets: joining, late, lost and slow, with Larch on the virtual board behind it."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path

import pytest

from handtick.log import LogReader
from handtick.log.check import check
from tests.classroom.a_class import LESSON, AClass, Page, wait_until


@pytest.fixture
def a_class(tmp_path: Path) -> Iterator[AClass]:
    """A class whose crank comes back after half a second."""
    with AClass(tmp_path, LESSON, gone_s=0.5) as a_class:
        yield a_class


def test_a_class_sees_every_tick_and_it_is_in_the_log(a_class: AClass) -> None:
    """Teacher and pupil drive in turn; each tick made is told to both, once, and logged."""
    teacher, mira = a_class.teacher(), a_class.pupil("Mira")
    mira.hear(lambda: mira.tick() == 0 and "room" in mira.told)
    for number in (1, 2, 3):
        teacher.ask(do="step")
        mira.hear(lambda made=number: mira.tick() == made and not mira.told["clock"]["running"])
    mira.ask(do="wait")
    teacher.hear(lambda: bool(teacher.told.get("room", {}).get("waiting")))
    teacher.ask(do="next")
    mira.hear(lambda: mira.told["room"]["holder_name"] == "Mira")
    mira.ask(do="to", tick=20)
    teacher.hear(lambda: teacher.tick() == 20)
    mira.hear(lambda: mira.tick() == 20)
    assert mira.ticks == list(range(1, 21))
    assert a_class.edges == 20
    assert mira.refused(do="reset") == "the teacher does not let others reset the machine"
    mira.answer("said", do="note", text="here it turns", reset=0, tick=7)
    a_class.end()
    with LogReader.open(a_class.log) as log:
        assert [tick.tick for tick in log.all_ticks()] == list(range(1, 21))
        assert [(note.tick, note.text) for note in log.notes()] == [(7, "Mira: here it turns")]
    assert [finding for finding in check(a_class.log) if finding.kind == "wrong"] == []


def test_who_comes_late_gets_the_present_state_and_recent_ticks_once(a_class: AClass) -> None:
    """Not what happened before, edge by edge."""
    teacher = a_class.teacher()
    teacher.ask(do="to", tick=300)
    teacher.hear(lambda: teacher.tick() == 300)
    late = a_class.pupil("Late")
    late.hear(lambda: late.tick() == 300)
    assert late.ticks == list(range(237, 301))
    assert sum(1 for said in late.all if "clock" in said) <= 2


def test_a_page_can_tell_a_quiet_room_from_a_dead_network(a_class: AClass, monkeypatch: pytest.MonkeyPatch) -> None:
    """Where nothing happens, how the clock stands is told again now and then, and no tick twice."""
    drawn_up: list[bool] = []
    looks: list[float] = []
    draw_up, pass_time = a_class.server._draw_up, a_class.room.pass_time

    def noting(changed: bool) -> None:
        drawn_up.append(changed)
        draw_up(changed)

    def looking(now_s: float) -> None:
        looks.append(now_s)
        pass_time(now_s)

    # Not at every look at what has happened...
    monkeypatch.setattr("handtick.classroom.server.QUIET_S", 3600)
    teacher = a_class.teacher()
    teacher.ask(do="to", tick=3)
    teacher.hear(lambda: teacher.tick() == 3 and not teacher.told["clock"]["running"])
    monkeypatch.setattr(a_class.server, "_draw_up", noting)
    monkeypatch.setattr(a_class.room, "pass_time", looking)
    wait_until(lambda: len(looks) > 10)
    assert all(drawn_up), "news without anything new"
    # ... but after a while.
    monkeypatch.setattr("handtick.classroom.server.QUIET_S", 0.2)
    heard = len(teacher.all)
    wait_until(lambda: drawn_up.count(False) >= 4)
    teacher.hear(lambda: len(teacher.all) >= heard + 4)
    assert teacher.ticks == [1, 2, 3]
    assert all(said["clock"]["tick"] == 3 for said in teacher.all[heard:] if "clock" in said)


def test_a_dropped_page_comes_back_to_its_seat(tmp_path: Path) -> None:
    """Same number, same name, same crank, for good; what it missed is shown, not played."""
    with AClass(tmp_path, gone_s=30.0) as a_class:
        _comes_back(a_class)


def _comes_back(a_class: AClass) -> None:
    teacher, mira = a_class.teacher(), a_class.pupil("Mira")
    mira.hear(lambda: "hello" in mira.told and "you" in mira.told)
    number, seat = mira.told["you"]["number"], mira.told["hello"]["seat"]
    teacher.hear(lambda: len(teacher.told.get("you", {}).get("people", [])) == 1)
    teacher.ask(do="give", person=number)
    mira.hear(lambda: mira.told.get("room", {}).get("holder") == number)
    mira.close()
    back = Page(a_class, {"do": "sit", "seat": seat})
    back.hear(lambda: back.told.get("room", {}).get("holder") == number)
    assert back.told["you"] == {"number": number, "name": "Mira", "role": "pupil", "called": {}}
    a_class.room.pass_time(time.monotonic() + 60.0)
    back.ask(do="step")
    back.hear(lambda: back.tick() == 1)


def test_a_holder_who_stays_away_loses_the_crank_and_the_clock_rests(a_class: AClass) -> None:
    """Mid-run: the run ends, and the teacher has the crank."""
    teacher, mira = a_class.teacher(), a_class.pupil("Mira")
    mira.hear(lambda: "you" in mira.told)
    teacher.hear(lambda: len(teacher.told.get("you", {}).get("people", [])) == 1)
    teacher.ask(do="give", person=mira.told["you"]["number"])
    mira.hear(lambda: mira.told.get("room", {}).get("holder") is not None)
    mira.ask(do="run", rate="20")
    mira.hear(lambda: mira.tick() > 3)
    teacher.hear(lambda: teacher.tick() > 3)
    mira.close()
    teacher.hear(lambda: teacher.told["room"]["holder"] is None and not teacher.told["clock"]["running"])
    edges = a_class.edges
    time.sleep(0.3)
    assert a_class.edges == edges


def test_a_refusal_is_no_longer_said_once_something_is_done(a_class: AClass) -> None:
    """To nobody: not while later ticks are made, nor after them, nor after a reset."""
    teacher, mira = a_class.teacher(), a_class.pupil("Mira")
    for later in ({"do": "step"}, {"do": "to", "tick": 20}, {"do": "reset"}):
        teacher.ask(do="to", tick=9)
        teacher.hear(lambda: teacher.tick() >= 9 and not teacher.told["clock"]["running"])
        teacher.ask(do="to", tick=3)
        mira.hear(lambda: "that tick has gone by" in mira.told.get("clock", {}).get("said", ""))
        teacher.ask(**later)
        mira.hear(lambda: mira.told["clock"]["said"] == "")


def test_a_slow_page_is_skipped_forward_and_holds_nobody_back(a_class: AClass) -> None:
    """It reads nothing for a while; the others see every tick meanwhile, and it then sees the latest."""
    teacher, slow = a_class.teacher(), a_class.pupil("Slow")
    slow.hear(lambda: slow.tick() == 0)
    teacher.ask(do="to", tick=2000)
    teacher.hear(lambda: teacher.tick() == 2000)
    slow.hear(lambda: slow.tick() == 2000)
    assert slow.ticks[-1] == 2000
    assert slow.ticks == sorted(set(slow.ticks))


def test_news_comes_at_most_twenty_times_a_second(a_class: AClass) -> None:
    """However fast the clock is."""
    teacher = a_class.teacher()
    teacher.hear(lambda: teacher.tick() == 0)
    teacher.ask(do="run", rate="500")
    teacher.hear(lambda: teacher.tick() > 50)
    began, before = time.monotonic(), a_class.server._news_number
    teacher.hear(lambda: time.monotonic() - began >= 2)
    drawn_up = a_class.server._news_number - before
    assert 1 < drawn_up <= 20 * (time.monotonic() - began) + 2
    teacher.ask(do="halt")
    teacher.hear(lambda: not teacher.told["clock"]["running"])


def test_a_stop_of_the_lesson_that_lies_behind_is_reached_over_a_reset(a_class: AClass) -> None:
    """The whole way on a board: forward to one stop, then back to an earlier one."""
    teacher = a_class.teacher()
    teacher.hear(lambda: teacher.tick() == 0)
    teacher.ask(do="stop", place=2)
    teacher.hear(lambda: teacher.tick() == 8)
    teacher.ask(do="stop", place=1)
    teacher.hear(lambda: teacher.told["clock"]["reset"] == 1 and teacher.tick() == 3)
    assert teacher.told["room"]["lesson"]["difference"] is None


def test_a_wrong_word_is_told_and_nobody_comes_in(a_class: AClass) -> None:
    """The page says why."""
    page = Page(a_class, {"do": "join", "name": "X", "word": "0000-0000"})
    assert page.ended() == (4001, "that is not the word of this room")
    gone = Page(a_class, {"do": "sit", "seat": "0" * 26})
    assert gone.ended() == (4001, "that seat is gone; join again")
    assert a_class.room.people.known == {}


def test_who_is_sent_out_is_told_so(a_class: AClass) -> None:
    """At once, and not at their next click."""
    teacher, mira = a_class.teacher(), a_class.pupil("Mira")
    mira.hear(lambda: "you" in mira.told)
    teacher.ask(do="remove", person=mira.told["you"]["number"])
    assert mira.ended() == (4003, "the teacher has sent you out")


def test_a_log_takes_the_place_of_a_board_and_is_said_not_to_be_live(tmp_path: Path) -> None:
    """The same lesson, from a run that went well."""
    folder = tmp_path / "first"
    folder.mkdir()
    with AClass(folder) as first:
        teacher = first.teacher()
        teacher.ask(do="to", tick=30)
        teacher.hear(lambda: teacher.tick() == 30)
    again = tmp_path / "again"
    again.mkdir()
    with AClass(again, LESSON, replay=first.log) as second:
        teacher = second.teacher()
        teacher.hear(lambda: teacher.tick() == 0)
        assert teacher.told["clock"]["live"] is False
        teacher.ask(do="stop", place=2)
        teacher.hear(lambda: teacher.tick() == 8)
        teacher.ask(do="stop", place=1)
        teacher.hear(lambda: teacher.told["clock"]["reset"] == 1 and teacher.tick() == 3)
        assert teacher.told["room"]["lesson"]["difference"] is None
        teacher.ask(do="half")
        teacher.hear(lambda: "refused" in teacher.told["clock"]["said"])
        teacher.ask(do="to", tick=30)
        teacher.hear(lambda: teacher.tick() == 30)
        teacher.hear(lambda: teacher.told["clock"]["clock"] == "at rest: all that was asked for is done")
        teacher.ask(do="to", tick=31)
        teacher.hear(lambda: teacher.told["clock"]["said"] == "the log ends at tick 30")
        teacher.hear(lambda: teacher.told["clock"]["clock"] == "at rest")
        assert second.edges == 0


def test_the_board_may_be_pulled_and_put_back(tmp_path: Path) -> None:
    """The page says so, and goes on by itself."""
    with AClass(tmp_path) as a_class:
        teacher = a_class.teacher()
        teacher.hear(lambda: teacher.told.get("clock", {}).get("there", False))
        a_class.pull()
        teacher.hear(lambda: teacher.told["clock"]["said"] == "no board found; plug one in")
        assert not teacher.told["clock"]["there"]
        a_class.put_back()
        teacher.hear(lambda: teacher.told["clock"]["there"])
        teacher.ask(do="step")
        teacher.hear(lambda: teacher.tick() == 1)
        wait_until(lambda: a_class.edges == 1)
