"""What the class's server keeps has an end, whoever makes it grow."""

from __future__ import annotations

import subprocess
import sys

import pytest

from handtick.classroom.asked import Asked
from handtick.classroom.calls import MOST_CALLS, Calls
from handtick.classroom.crank import MOST_WAITING
from handtick.classroom.guard import Doorstep
from handtick.classroom.people import MOST_KNOWN, People
from handtick.classroom.room import Room
from handtick.wiring import Bus
from tests.classroom.a_class import WIRING


class NoClock:
    """A clock of which nothing is asked here."""

    def send(self, kind: str, *values: int | str) -> None:
        """See ``Clock``."""
        raise AssertionError(kind)


def test_a_row_of_people_who_are_gone_gives_way() -> None:
    """Whoever is here is not kept from the row by those who waited and left."""
    room = Room(WIRING, NoClock())
    stays = room.join("Wren")
    room.here(stays)
    room.take(stays, Asked("wait", {}))
    for number in range(MOST_WAITING - 1):
        goes = room.join(f"guest {number}")
        room.here(goes)
        room.take(goes, Asked("wait", {}))
        room.away(goes, 0.0)
    late = room.join("Finch")
    room.here(late)
    room.take(late, Asked("wait", {}))
    assert room.crank.waiting == [stays.number, late.number]


def test_those_who_come_and_go_without_end_are_forgotten() -> None:
    """Their seats too; who is here is remembered."""
    people = People()
    stays = people.join("Wren")
    stays.here = 1
    first = people.join("Finch")
    for number in range(2 * MOST_KNOWN):
        people.join(f"guest {number}")
    assert len(people.known) == MOST_KNOWN
    assert people.sits(first.seat) is None
    assert people.sits(stays.seat) is stays


def test_a_name_that_many_have_stays_as_short_as_a_name_may_be() -> None:
    """Whoever comes in again under the name they were given is let in."""
    people = People()
    names = [people.join("a name of 24 letters ok!").name]
    for _ in range(12):
        names.append(people.join(names[-1]).name)
    assert len(set(names)) == 13
    assert all(len(name) <= 24 for name in names)


def test_calls_without_end_are_not_kept_without_end() -> None:
    """The latest are."""
    calls, bus = Calls(), Bus("data", tuple(range(8)))
    for tick in range(MOST_CALLS // 400 + 2):
        for person in range(400):
            calls.say(person, bus, 1, (0, tick))
        calls.answer(0, tick, [bus], 0, {})
    rows = calls.table().splitlines()
    assert len(rows) == 1 + MOST_CALLS
    assert rows[-1].startswith(f"0,{MOST_CALLS // 400 + 1},data")


def test_the_doorstep_holds_so_many_of_each_address() -> None:
    """One that is full leaves room for the others, and has room again when somebody joins or leaves."""
    doorstep = Doorstep(2)
    assert doorstep.comes(("10.0.0.1", 1))
    assert doorstep.comes(("10.0.0.1", 2))
    assert not doorstep.comes(("10.0.0.1", 3))
    assert doorstep.comes(("10.0.0.2", 3))
    doorstep.leaves(("10.0.0.1", 1))
    doorstep.leaves(("10.0.0.1", 1))
    assert doorstep.comes(("10.0.0.1", 3))
    assert doorstep.strangers("10.0.0.1") == 2


@pytest.mark.skipif(sys.platform == "win32", reason="that system counts no files")
def test_a_system_that_begins_with_few_files_holds_a_class_all_the_same() -> None:
    """A connection is a file; the limit is raised as far as the system allows, and never lowered."""
    program = """
import resource
from handtick.classroom.serving import allow_files
hard = resource.getrlimit(resource.RLIMIT_NOFILE)[1]
resource.setrlimit(resource.RLIMIT_NOFILE, (256, hard))
allow_files(300)
print(resource.getrlimit(resource.RLIMIT_NOFILE)[0])
allow_files(100)
print(resource.getrlimit(resource.RLIMIT_NOFILE)[0])
"""
    said = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert said.stdout.split() == ["300", "300"]
