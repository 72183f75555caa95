"""What is published at a broker, and in which order."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.classroom.news import TOLD
from handtick.classroom.topics import EVERY_S, KEPT_S, RECENT, STANDING_S, Outbox, Published, Topics
from handtick.events import Greeting
from tests.classroom.test_room import Class

TOPICS = Topics("school/larch")


class Desk:
    """A class whose news goes into an outbox, and a time of its own."""

    def __init__(self) -> None:
        self.room_of = Class()
        self.outbox = Outbox(self.room_of.room, TOPICS)
        self.number = 0
        self.now_s = 0.0
        self.published: list[Published] = []

    def ticks(self, count: int) -> None:
        """Ticks are made, and told as pages are told."""
        for _ in range(count):
            self.number += 1
            self.room_of.tick(self.number)
        self.outbox.take(self.room_of.room.news.since(), False)

    def publish(self, seconds: float = 1.0) -> list[tuple[str, dict[str, Any]]]:
        """All that is published in some seconds: topic without the prefix, and content."""
        found = []
        until_s = self.now_s + seconds
        while self.now_s < until_s:
            self.now_s += EVERY_S
            each = self.outbox.next(self.now_s)
            if each is not None:
                self.published.append(each)
                found.append((each.topic.removeprefix("school/larch/"), json.loads(each.payload)))
        return found


def test_a_connection_begins_with_how_everything_stands() -> None:
    """The room, then the clock with the last ticks; and none of the ticks before it once more."""
    desk = Desk()
    desk.ticks(40)
    desk.outbox.start()
    said = desk.publish()
    assert [topic for topic, _ in said] == ["room", "clock"]
    clock = said[1][1]
    assert clock["tick"] == 40
    assert [tick["tick"] for tick in clock["new"]] == list(range(41 - RECENT, 41))
    assert [(each.retain, each.expiry_s) for each in desk.published] == [(True, KEPT_S)] * 2


def test_a_tick_is_told_and_then_how_the_clock_stands() -> None:
    """The batch is not retained, as nobody who comes later shall be played ticks."""
    desk = Desk()
    desk.outbox.start()
    desk.publish()
    desk.ticks(3)
    said = dict(desk.publish())
    assert [tick["tick"] for tick in said["ticks"]["new"]] == [1, 2, 3]
    assert (said["ticks"]["boot"], said["ticks"]["skipped"]) == (1, 0)
    assert said["clock"]["tick"] == 3
    assert [each.retain for each in desk.published if each.topic.endswith("ticks")] == [False]
    assert desk.publish() == []


def test_how_the_clock_stands_is_told_so_often_and_leaves_room_for_ticks() -> None:
    """While ticks come all the time, they get most of the messages."""
    desk = Desk()
    desk.outbox.start()
    topics: list[str] = []
    for _ in range(100):
        desk.ticks(1)
        topics += [topic for topic, _ in desk.publish(EVERY_S)]
    assert len(topics) == 100
    assert topics.count("clock") <= 100 * EVERY_S / STANDING_S + 1
    assert topics.count("ticks") >= 75


def test_what_stands_is_told_again_before_the_broker_lets_it_go() -> None:
    """In a long pause, whoever comes still finds it."""
    desk = Desk()
    desk.outbox.start()
    desk.publish()
    assert desk.publish(KEPT_S / 2 - 5) == []
    assert [topic for topic, _ in desk.publish(10)] == ["room", "clock"]


@given(st.lists(st.tuples(st.integers(0, 150), st.booleans()), max_size=30))
def test_every_tick_is_told_once_or_counted_as_skipped(rounds: list[tuple[int, bool]]) -> None:
    """However fast they come and however seldom the broker takes any; at most so many wait."""
    desk = Desk()
    desk.outbox.start()
    desk.publish()
    batches: list[dict[str, Any]] = []
    for count, takes in rounds:
        desk.ticks(count)
        if takes:
            batches += [said for topic, said in desk.publish() if topic == "ticks"]
    batches += [said for topic, said in desk.publish() if topic == "ticks"]
    next_tick = 1
    for batch in batches:
        assert len(batch["new"]) <= TOLD
        next_tick += batch["skipped"]
        for tick in batch["new"]:
            assert tick["tick"] == next_tick
            next_tick += 1
    assert next_tick == desk.number + 1


def test_ticks_of_two_starts_of_the_board_are_never_in_one_batch() -> None:
    """What was not told before the board started again is not told after it."""
    desk = Desk()
    desk.outbox.start()
    desk.publish()
    desk.ticks(5)
    desk.room_of.room.heard(Greeting(2, 0, 0, 0, {"mode": "rest"}))
    desk.outbox.take(desk.room_of.room.news.since(), True)
    said = dict(desk.publish())
    assert "ticks" not in said
    assert said["clock"]["boot"] == 2


@pytest.mark.parametrize(
    ("topic", "may"),
    [
        ("school/larch/answers/mira", True),
        ("school/larch/answers/room 4/mira", True),
        ("school/larch/answers/", False),
        ("school/larch/answers", False),
        ("school/larch/clock", False),
        ("school/larch/ask/ab", False),
        ("answers/mira", False),
        ("school/larch/answers/#", False),
        ("school/larch/answers/+/a", False),
        ("school/larch/answers/a\x00b", False),
        ("school/larch/answers/" + "a" * 201, False),
        ("", False),
    ],
)
def test_nobody_has_anything_else_written_than_answers(topic: str, may: bool) -> None:
    """A response topic can't make the class overwrite its own topics, or anybody's."""
    assert TOPICS.may_be_answered(topic) is may


def test_leaving_takes_away_what_was_retained() -> None:
    """And says last that nobody is there."""
    *away, here = TOPICS.farewell()
    assert [(each.topic, each.payload, each.retain) for each in away] == [
        ("school/larch/clock", "", True),
        ("school/larch/room", "", True),
    ]
    assert here == TOPICS.gone()
    assert (json.loads(here.payload), here.retain) == ({"here": False}, True)
