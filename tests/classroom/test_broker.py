"""A class at a real broker: mosquitto, started and stopped as lessons go."""

from __future__ import annotations

import itertools
import json
import signal
from collections.abc import Iterator
from pathlib import Path

import pytest

from handtick.classroom import guests
from handtick.classroom.topics import EVERY_S, Outbox, Published
from handtick.log import LogReader
from tests.classroom.a_class import AClass, Page, wait_until
from tests.classroom.mosquitto import Mosquitto
from tests.classroom.raw_mqtt import publish_again_as_duplicate
from tests.classroom.remote_room import RemoteRoom


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Mosquitto]:
    """A broker that lets everybody in."""
    with Mosquitto(tmp_path) as broker:
        yield broker


@pytest.fixture
def a_class(mosquitto: Mosquitto, tmp_path: Path) -> Iterator[AClass]:
    """A class that is at the broker."""
    with AClass(tmp_path, broker=mosquitto.address()) as a_class:
        yield a_class


@pytest.fixture
def teacher(a_class: AClass) -> Iterator[Page]:
    """The teacher, at the page."""
    page = a_class.teacher()
    page.hear(lambda: page.tick() == 0 and "room" in page.told)
    yield page
    page.close()


@pytest.fixture
def elsewhere(a_class: AClass, mosquitto: Mosquitto) -> Iterator[RemoteRoom]:
    """Ada, in another room, who has joined."""
    with RemoteRoom(mosquitto.port, "Ada") as ada:
        ada.arrive()
        ada.join(a_class.word)
        yield ada


def hand_over(teacher: Page, remote: RemoteRoom) -> None:
    """Somebody elsewhere waits for the crank, and the teacher hands it to them."""
    assert remote.ask("wait")["done"] == "wait"
    teacher.ask(do="next")
    teacher.hear(lambda: teacher.told["room"]["holder_name"] == remote.name)


def rests_at(teacher: Page, tick: int) -> None:
    """The class sees the clock at rest at a tick."""
    teacher.hear(lambda: teacher.tick() == tick and not teacher.told["clock"]["running"])


def accounted_for(remote: RemoteRoom) -> int:
    """How many ticks were told elsewhere, or counted as skipped."""
    return len(remote.ticks) + sum(batch["skipped"] for batch in remote.batches)


def logged(a_class: AClass) -> int:
    """How many ticks the log has, once the class has ended; on a busy computer it may have gaps."""
    a_class.end()
    with LogReader.open(a_class.log) as log:
        return sum(1 for _ in log.all_ticks())


def test_somebody_elsewhere_waits_drives_and_hands_back(a_class: AClass, teacher: Page, elsewhere: RemoteRoom) -> None:
    """In the same row as everybody; each tick is told here and there."""
    assert elsewhere.ask("step")["refused"] == "the teacher has the crank"
    hand_over(teacher, elsewhere)
    elsewhere.ask("step")
    rests_at(teacher, 1)
    elsewhere.ask("to", tick=30)
    rests_at(teacher, 30)
    elsewhere.until(lambda: elsewhere.standing["clock"]["tick"] == 30)
    elsewhere.until(lambda: elsewhere.ticks == list(range(1, 31)))
    assert elsewhere.ask("reset")["refused"] == "the teacher does not let others reset the machine"
    elsewhere.ask("return")
    elsewhere.until(lambda: elsewhere.standing["room"]["holder"] is None)
    assert elsewhere.ask("step")["refused"] == "the teacher has the crank"
    assert a_class.edges == 30


def test_whoever_comes_late_has_how_everything_stands(
    a_class: AClass, teacher: Page, elsewhere: RemoteRoom, mosquitto: Mosquitto
) -> None:
    """From the broker itself, without asking; with recent ticks, and none played again."""
    teacher.ask(do="to", tick=40)
    rests_at(teacher, 40)
    elsewhere.until(lambda: elsewhere.ticks[-1:] == [40] and elsewhere.standing["clock"]["tick"] == 40)
    with RemoteRoom(mosquitto.port, "Late") as late:
        late.until(lambda: late.standing.get("clock", {}).get("tick") == 40 and "room" in late.standing)
        assert late.standing["clock"]["new"][-1]["tick"] == 40
        assert late.standing["room"]["holder_name"] == "the teacher"
        assert [bus["name"] for bus in late.here["buses"]] == [bus["name"] for bus in a_class.room.news.buses()]
        assert late.batches == []


def test_watching_is_not_driving(a_class: AClass, teacher: Page, elsewhere: RemoteRoom, mosquitto: Mosquitto) -> None:
    """Without a seat, with a made-up one or with the wrong word, nothing is done."""
    hand_over(teacher, elsewhere)
    with RemoteRoom(mosquitto.port, "Eve") as eve:
        eve.arrive()
        assert eve.ask("step")["refused"] == "that seat is gone; join again"
        assert eve.answer(do="step", seat="0" * 26)["refused"] == "that seat is gone; join again"
        assert "step goes with" in eve.answer(do="step")["refused"]
        assert eve.answer(do="join", name="Eve", word="none-none")["refused"] == "that is not the word of this room"
        eve.send(do="step", seat="", id=1, answer_to="school/larch/clock")
        eve.client.publish(f"school/larch/ask/{eve.here['epoch']}", b"\x00" * 100_000, qos=1)
        eve.client.publish(f"school/larch/ask/{eve.here['epoch']}", b"", qos=1)
    assert elsewhere.ask("step")["done"] == "step"
    rests_at(teacher, 1)
    assert a_class.edges == 1
    assert all("tick" in said for topic, said in elsewhere.all if topic == "clock"), "an answer was written there"


def test_the_same_message_again_is_done_once(a_class: AClass, teacher: Page, elsewhere: RemoteRoom) -> None:
    """As a client sends it that never heard it had arrived; also retained, or without an end to its waiting."""
    hand_over(teacher, elsewhere)
    for _ in range(5):
        elsewhere.send(do="step", seat=elsewhere.seat, id=1_000_000)
    elsewhere.send(do="step", seat=elsewhere.seat, id=1_000_001, retain=True)
    elsewhere.send(do="step", seat=elsewhere.seat, id=1_000_002, expiry_s=None)
    elsewhere.send(do="step", seat=elsewhere.seat, id=999_999)
    elsewhere.until(lambda: 999_999 in elsewhere.answers)
    assert elsewhere.answers[1_000_000] == {"id": 1_000_000, "done": "step"}
    assert elsewhere.answers[1_000_001]["refused"].startswith("what is asked for is not retained")
    assert "message expiry interval" in elsewhere.answers[1_000_002]["refused"]
    assert "nothing was done again" in elsewhere.answers[999_999]["refused"]
    rests_at(teacher, 1)
    assert a_class.edges == 1


def test_a_message_delivered_again_by_the_broker_is_done_once(
    a_class: AClass, teacher: Page, elsewhere: RemoteRoom, mosquitto: Mosquitto
) -> None:
    """Published at QoS 1 and once more as a duplicate, as after a lost acknowledgement; the broker delivers both."""
    hand_over(teacher, elsewhere)
    topic = f"school/larch/ask/{elsewhere.here['epoch']}"
    elsewhere.client.subscribe(topic, qos=1)
    elsewhere.until(lambda: elsewhere.granted == 2)
    said = json.dumps({"do": "step", "seat": elsewhere.seat, "id": 1_000_000}).encode()
    publish_again_as_duplicate(mosquitto.port, topic, said)
    elsewhere.until(lambda: sum(topic.startswith("ask/") for topic, _ in elsewhere.all) == 2)
    elsewhere.send(do="here", seat=elsewhere.seat, id=1_000_001)
    elsewhere.until(lambda: 1_000_001 in elsewhere.answers)
    rests_at(teacher, 1)
    assert a_class.edges == 1


def test_a_lesson_goes_on_while_the_broker_is_stopped_and_started(
    a_class: AClass, teacher: Page, elsewhere: RemoteRoom, mosquitto: Mosquitto
) -> None:
    """The class drives on; elsewhere comes back by itself; what was asked for in between is not done later."""
    hand_over(teacher, elsewhere)
    elsewhere.ask("step")
    rests_at(teacher, 1)
    before = elsewhere.here["epoch"]
    last = elsewhere.answer(do="here", seat=elsewhere.seat)["id"]
    mosquitto.stop()
    wait_until(lambda: any("the connection is lost" in line for line in a_class.told))
    # Sent by the client's own library once the broker is back, long after it was asked for.
    elsewhere.send(epoch=before, do="step", seat=elsewhere.seat, id=last + 1_000_000)
    teacher.ask(do="step")
    rests_at(teacher, 2)
    with_crank = a_class.pupil("Mira")
    with_crank.ask(do="wait")
    teacher.hear(lambda: bool(teacher.told["room"]["waiting"]))
    teacher.ask(do="next")
    with_crank.hear(lambda: with_crank.told.get("room", {}).get("holder_name") == "Mira")
    with_crank.ask(do="step")
    rests_at(teacher, 3)
    with_crank.close()

    mosquitto.start()
    elsewhere.until(lambda: elsewhere.here.get("epoch", before) != before)
    elsewhere.until(lambda: elsewhere.standing["clock"]["tick"] == 3)
    assert elsewhere.ask("here")["done"] == "here"
    assert last + 1_000_000 not in elsewhere.answers
    hand_over(teacher, elsewhere)
    elsewhere.ask("step")
    rests_at(teacher, 4)
    # And once more under the old epoch, where nobody listens any more.
    elsewhere.send(epoch=before, do="step", seat=elsewhere.seat, id=last + 1_000_001)
    elsewhere.ask("step")
    rests_at(teacher, 5)
    assert a_class.edges == 5
    assert "the class is there" in a_class.told[0]
    assert "the connection is lost; the class goes on" in a_class.told[1]
    assert "the class is there" in a_class.told[-1]


@pytest.fixture
def impatient(mosquitto: Mosquitto, tmp_path: Path) -> Iterator[Page]:
    """The teacher of a class in which Ada, elsewhere, has the crank, and loses it a second after she is gone."""
    with AClass(tmp_path, broker=mosquitto.address(), gone_s=1.0) as a_class:
        teacher = a_class.teacher()
        teacher.hear(lambda: "room" in teacher.told)
        with RemoteRoom(mosquitto.port, "Ada") as ada:
            ada.arrive()
            ada.join(a_class.word)
            hand_over(teacher, ada)
            ada.ask("run", rate="5")
            teacher.hear(lambda: teacher.told["clock"]["running"])
            yield teacher
        teacher.close()


def test_a_holder_elsewhere_is_gone_with_the_broker(impatient: Page, mosquitto: Mosquitto) -> None:
    """After the stated time the crank is the teacher's again and the clock rests."""
    mosquitto.stop()
    impatient.hear(lambda: impatient.told["room"]["holder"] is None and not impatient.told["clock"]["running"])


def test_a_silent_holder_elsewhere_is_gone(impatient: Page, monkeypatch: pytest.MonkeyPatch) -> None:
    """Their connection may well be there; they are not."""
    monkeypatch.setattr(guests, "SILENT_S", 0.5)
    impatient.hear(lambda: impatient.told["room"]["holder"] is None and not impatient.told["clock"]["running"])


def test_a_broker_that_hangs_holds_nobody_up(
    a_class: AClass, teacher: Page, elsewhere: RemoteRoom, mosquitto: Mosquitto
) -> None:
    """The class sees its ticks meanwhile; once it goes on, elsewhere is skipped forward to how everything stands."""
    assert mosquitto.process is not None
    teacher.ask(do="step")
    elsewhere.until(lambda: elsewhere.ticks == [1])
    mosquitto.process.send_signal(signal.SIGSTOP)
    try:
        teacher.ask(do="to", tick=1000)
        rests_at(teacher, 1000)
    finally:
        mosquitto.process.send_signal(signal.SIGCONT)
    elsewhere.until(lambda: elsewhere.standing["clock"]["tick"] == 1000)
    elsewhere.until(lambda: elsewhere.ticks[-1] == 1000)
    assert sum(batch["skipped"] for batch in elsewhere.batches) > 100
    assert accounted_for(elsewhere) == logged(a_class)


def test_the_class_ends_while_the_broker_hangs(mosquitto: Mosquitto, tmp_path: Path) -> None:
    """Nobody waits for an answer that never comes."""
    assert mosquitto.process is not None
    with AClass(tmp_path, broker=mosquitto.address()) as a_class:
        wait_until(lambda: bool(a_class.told))
        mosquitto.process.send_signal(signal.SIGSTOP)
        try:
            a_class.end()
        finally:
            mosquitto.process.send_signal(signal.SIGCONT)


def test_a_fast_run_is_at_most_twenty_messages_a_second(
    a_class: AClass, teacher: Page, elsewhere: RemoteRoom, monkeypatch: pytest.MonkeyPatch
) -> None:
    """However fast the ticks come; told or counted as skipped, each is accounted for."""
    sent_s: list[float] = []
    following = Outbox.next

    def noting(outbox: Outbox, now_s: float) -> Published | None:
        published = following(outbox, now_s)
        if published is not None:
            sent_s.append(now_s)
        return published

    monkeypatch.setattr(Outbox, "next", noting)
    teacher.ask(do="to", tick=3000)
    rests_at(teacher, 3000)
    elsewhere.until(lambda: elsewhere.ticks[-1:] == [3000])
    assert len(sent_s) > 2
    # The loop's timer may be early by its resolution.
    assert all(later - sooner > EVERY_S - 0.001 for sooner, later in itertools.pairwise(sent_s))
    assert accounted_for(elsewhere) == logged(a_class)


def test_leaving_leaves_nothing_behind(mosquitto: Mosquitto, tmp_path: Path) -> None:
    """No names and no state stay at the broker when the class ends; only that nobody is there."""
    with RemoteRoom(mosquitto.port, "Ada") as ada:
        with AClass(tmp_path, broker=mosquitto.address()):
            ada.arrive()
        ada.until(lambda: ada.here == {"here": False} and ada.standing == {})
    with RemoteRoom(mosquitto.port, "Late") as late:
        late.until(lambda: late.here == {"here": False})
        assert late.standing == {}
