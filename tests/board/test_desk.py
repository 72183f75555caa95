"""What the board makes of the bytes it gets: each command once, and nothing it can't trust."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.events import Answer, Greeting
from handtick.links.virtual import VirtualLink
from handtick.session import Session
from handtick.virtual.board import VirtualBoard
from handtick_wire import messages, reasons
from handtick_wire.framing import frame_command
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter


def bench() -> tuple[VirtualBoard, VirtualLink]:
    """A board nobody has greeted."""
    board = VirtualBoard(Counter())
    return board, VirtualLink(board)


def said(link: VirtualLink, line: bytes) -> bytes:
    """What the board says to a line within a second."""
    link.write(line)
    answer = b""
    while data := link.read(1.0):
        answer += data
    return answer


@pytest.mark.fault(
    "link",
    "a command that arrives twice",
    "the same answer; no second tick",
)
def test_same_command_again_is_answered_again_and_ticks_nothing() -> None:
    """A step said three times with one id makes its ticks once and is answered each time."""
    board, link = bench()
    hearing = Hearing(link)
    command_id, line = hearing.session.command("step", 3)
    for _ in range(3):
        link.write(line)
        hearing.listen(1.0)
    assert board.board.clock.edges == 3
    assert [answer.kind for answer in hearing.answers(command_id)] == ["done"] * 3


def test_command_under_way_said_again_is_answered_once() -> None:
    """A burst said again while it runs is the same burst."""
    board, link = bench()
    hearing = Hearing(link)
    command_id, line = hearing.session.command("burst", 20, "100")
    link.write(line)
    board.run_until(board.now_us + 50_000)
    link.write(line)
    hearing.listen(2.0)
    assert board.board.clock.edges == 20
    assert len(hearing.answers(command_id)) == 1


def test_id_too_old_to_be_remembered_ticks_nothing() -> None:
    """A command older than the answers the board remembers is passed over."""
    board, link = bench()
    hearing = Hearing(link)
    _command_id, line = hearing.session.command("step", 1)
    link.write(line)
    for _ in range(20):
        hearing.ask("status")
    link.write(line)
    hearing.listen(1.0)
    assert board.board.clock.edges == 1


@pytest.mark.fault(
    "link",
    "a command with one wrong byte",
    "a notice; no tick",
)
@given(place=st.integers(0, 100), change=st.integers(1, 255))
def test_command_with_one_wrong_byte_ticks_nothing(place: int, change: int) -> None:
    """A step with any byte changed, before its line's end, is not a step."""
    board, link = bench()
    Hearing(link)
    line = bytearray(frame_command(2, b"step 10"))
    line[place % (len(line) - 1)] ^= change
    said(link, bytes(line) + b"\n")
    assert board.board.clock.edges == 0


@pytest.mark.fault(
    "link",
    "a command torn in the middle",
    "a notice; no tick",
)
@pytest.mark.parametrize("length", range(2, 17))
def test_torn_step_is_no_step(length: int) -> None:
    """However much of a step's line is missing at the end, nothing is made of the rest."""
    board, link = bench()
    Hearing(link)
    said(link, frame_command(2, b"step 10")[:-length] + b"\n")
    assert board.board.clock.edges == 0


def test_nothing_is_done_before_a_greeting() -> None:
    """A command before the greeting is refused, whoever sends it."""
    board, link = bench()
    link.write(Session(1).command("step", 1)[1])
    said = link.read(0)
    assert b" refused id=1 why=no-greeting " in said
    assert said.count(b"\n") == 1, "whoever has not greeted is told nothing else"
    assert board.board.clock.edges == 0
    hearing = Hearing(link)
    assert hearing.ask("step", 1).kind == "done"


def test_new_program_starts_its_ids_afresh() -> None:
    """A greeting with another number is another program: its first step is not a repeat of the last one's."""
    board, link = bench()
    first = Hearing(link, nonce=1)
    first.ask("step", 1)
    second = Hearing(link, nonce=2)
    second.ask("step", 1)
    assert board.board.clock.edges == 2


def test_same_greeting_again_keeps_what_was_done() -> None:
    """A program that greets again after a hitch and repeats its step does not step twice."""
    board, link = bench()
    hearing = Hearing(link)
    command_id, line = hearing.session.command("step", 2)
    link.write(line)
    hearing.listen(1.0)
    link.write(frame_command(1, messages.ask("hello", 1)) + line)
    hearing.listen(1.0)
    assert board.board.clock.edges == 2
    assert len(hearing.answers(command_id)) == 2


@pytest.mark.parametrize(
    "text",
    ["step", "step 1 2", "step -1", "step 1.5", "step abc", f"step {2**64}", "run 0", "run 2Hz", "burst 3", "to 5",
     "half 1", "rate", "typing", "step 0", "typing maybe"],
)  # fmt: skip
def test_fields_that_do_not_fit_are_refused(text: str) -> None:
    """A command with a field missing, surplus or out of its range is refused and ticks nothing."""
    board, link = bench()
    hearing = Hearing(link)
    link.write(frame_command(2, text.encode()))
    hearing.listen(1.0)
    assert [(answer.kind, answer.why) for answer in hearing.answers(2)] == [("refused", reasons.BAD_FIELDS)]
    assert board.board.clock.edges == 0


def test_unknown_command_is_refused_by_that_name() -> None:
    """A command this board does not know is refused as such."""
    _board, link = bench()
    hearing = Hearing(link)
    answer = hearing.ask("dance")
    assert (answer.kind, answer.why) == ("refused", reasons.UNKNOWN)


@pytest.mark.fault(
    "person",
    "lines typed at the board's port by accident",
    "nothing happens",
)
def test_typed_lines_are_taken_only_in_typing_mode() -> None:
    """A person types "typing on" and then plain commands; before and after, plain lines do nothing."""
    board, link = bench()
    said(link, b"step 1\r\n")
    assert board.board.clock.edges == 0
    assert b" hello " in said(link, b"typing on\r\n")
    assert b" done id=0 tick=2 " in said(link, b"step 2\r\n")
    assert b"mode=rest" in said(link, b"status\n")
    assert b" refused id=0 " in said(link, b"step many\n")
    said(link, b"typing off\n")
    said(link, b"step 1\n")
    assert board.board.clock.edges == 2


def test_greeting_of_a_program_ends_typing_mode() -> None:
    """Once a program has greeted, a typed line is junk."""
    board, link = bench()
    said(link, b"typing on\n")
    hearing = Hearing(link)
    link.write(b"step 5\n")
    hearing.listen(1.0)
    assert board.board.clock.edges == 0
    assert [notice.what for notice in hearing.notices] == [reasons.DAMAGED_COMMAND]


def test_port_closed_ends_typing_mode() -> None:
    """Whoever opens the port next must turn typing mode on for himself."""
    board, link = bench()
    said(link, b"typing on\n")
    link.close()
    said(VirtualLink(board), b"step 5\n")
    assert board.board.clock.edges == 0


@given(data=st.lists(st.binary(max_size=300), max_size=8))
def test_any_bytes_leave_the_board_whole(data: list[bytes]) -> None:
    """Whatever arrives, nothing ticks, and the next greeting is answered."""
    board, link = bench()
    Hearing(link, nonce=1)
    for piece in data:
        said(link, piece)
    said(link, b"\n")
    assert board.board.clock.edges == 0
    hearing = Hearing(link, nonce=2)
    assert hearing.ask("step", 1) == Answer(2, "done", "", 1, 1)
    assert any(isinstance(event, Greeting) for event in hearing.events)
