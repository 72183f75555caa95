"""What the host makes of the board's lines: every tick once, and everything that did not arrive named."""

from __future__ import annotations

import inspect
from binascii import crc32

import pytest

from handtick.events import Damage, Event, Gap, Greeting, ResetDone, Tick, Unplaced
from handtick.place import Place
from handtick.session import LINK, Session
from handtick_wire import messages
from handtick_wire.framing import frame_report

HELLO = {
    **{name: "word" if form == messages.WORD else 1 for name, form in messages.REPORTS["hello"]},
    "top_rate": "1000",
    "mode": "moving",
    "boot": 5,
    "reset": 0,
    "tick": 0,
    "edges": 0,
}


class Board:
    """Says lines as a board would, with running numbers."""

    def __init__(self) -> None:
        self.number = 0

    def say(self, text: bytes) -> bytes:
        """One line."""
        line = frame_report(self.number & 0xFFFF, text)
        self.number += 1
        return line

    def hello(self, **fields: int | str) -> bytes:
        """A greeting."""
        return self.say(messages.say("hello", **{**HELLO, **fields}))

    def tick(self, tick: int, late: int = 0, reset: int = 0) -> bytes:
        """A tick's record."""
        return self.say(b"tick %d %d %X %X %d 0" % (reset, tick, late, late, tick * 1000))

    def state(self, mode: str, tick: int, edges: int, reset: int = 0) -> bytes:
        """A state."""
        return self.say(
            messages.say(
                "state",
                mode=mode,
                why="asked",
                asked="run:2",
                reset=reset,
                tick=tick,
                edges=edges,
                time_us=9000,
                rate="2",
            )
        )

    def reset(self, reset: int, tick: int, edges: int) -> bytes:
        """A reset."""
        return self.say(messages.say("reset", reset=reset, tick=tick, edges=edges))


def heard(session: Session, *parts: bytes) -> list[Event]:
    """Everything these bytes tell, in the order they arrive."""
    return [event for part in parts for event in session.receive(part)]


def ticks(events: list[Event]) -> list[int]:
    """Numbers of the ticks."""
    return [event.tick for event in events if isinstance(event, Tick)]


def gaps(events: list[Event]) -> list[tuple[int, int, int, str]]:
    """Gaps as (reset, first, last, why)."""
    return [(event.reset, event.first, event.last, event.why) for event in events if isinstance(event, Gap)]


def damage(events: list[Event]) -> list[tuple[bytes, int]]:
    """Damage as (bytes, lines)."""
    return [(event.raw, event.lines) for event in events if isinstance(event, Damage)]


@pytest.fixture
def board() -> Board:
    """A board that has said nothing yet."""
    return Board()


def greeted(board: Board, tick: int = 1040) -> Session:
    """A session that has heard a greeting in the middle of a run, up to some tick."""
    session = Session(1)
    session.receive(board.hello(tick=tick, edges=tick) + board.tick(tick))
    return session


def test_torn_stream_loses_one_tick_and_keeps_the_damaged_bytes(board: Board) -> None:
    """Tick 1042 torn after some bytes: 1041, 1043 and 1044 are taken, 1042 is a gap, its bytes are kept."""
    session = greeted(board)
    first, torn, third, fourth = (board.tick(number) for number in (1041, 1042, 1043, 1044))
    events = heard(session, first + torn[:16] + third + fourth)
    assert ticks(events) == [1041, 1043, 1044]
    assert gaps(events) == [(0, 1042, 1042, LINK)]
    assert damage(events) == [(torn[:16], 0), (b"", 1)]


def test_torn_start_byte_makes_two_ticks_missing_and_never_a_false_one(board: Board) -> None:
    """Tick 1042 cut and the next line's start byte lost too: both are missing, and nothing is made of the remains."""
    session = greeted(board)
    first, torn, third, fourth = (board.tick(number) for number in (1041, 1042, 1043, 1044))
    events = heard(session, first + torn[:16] + third[1:] + fourth)
    assert ticks(events) == [1041, 1044]
    assert gaps(events) == [(0, 1042, 1043, LINK)]
    assert [raw for raw, _ in damage(events) if raw] == [torn[:16] + third[1:-1]]


def test_split_stream_is_no_complaint(board: Board) -> None:
    """Lines that arrive in pieces, long apart, are taken without complaint."""
    session = greeted(board)
    stream = board.tick(1041, 0xA7F3) + board.tick(1042, 0xB0C1)
    events = heard(session, stream[:9], b"", stream[9:40], stream[40:])
    assert ticks(events) == [1041, 1042]
    assert not damage(events)
    assert not gaps(events)


def test_tick_numbers_go_on_past_32_bits(board: Board) -> None:
    """Ticks 4294967294 to 4294967298 follow one another without a gap."""
    session = greeted(board, 4294967293)
    events = heard(session, *(board.tick(number) for number in range(4294967294, 4294967299)))
    assert ticks(events) == [4294967294, 4294967295, 4294967296, 4294967297, 4294967298]
    assert not gaps(events)


def test_line_that_comes_again_is_one_line(board: Board) -> None:
    """A line the link repeats is passed over."""
    session = greeted(board)
    line = board.tick(1041)
    events = heard(session, line, line)
    assert ticks(events) == [1041]
    assert not damage(events)


def test_lines_that_never_arrive_are_counted(board: Board) -> None:
    """Lines that are no ticks are missed by their running numbers, in plain sight."""
    session = greeted(board)
    for _ in range(3):
        board.state("moving", 1040, 1040)
    events = heard(session, board.tick(1041))
    assert damage(events) == [(b"", 3)]
    assert not gaps(events)


def test_ticks_before_a_rest_are_missed_at_the_rest(board: Board) -> None:
    """Where the last ticks of a run do not arrive, the report of its end names them."""
    session = greeted(board)
    for number in (1041, 1042, 1043):
        board.tick(number)
    assert gaps(heard(session, board.state("rest", 1043, 1043))) == [(0, 1041, 1043, LINK)]


def test_lost_reset_line_is_found_by_the_edge_count(board: Board) -> None:
    """Where the line that tells of a reset does not arrive, the edge count tells how many ticks came before it."""
    session = greeted(board)
    heard(session, board.state("rest", 1040, 1040))
    board.reset(1, 1045, 1045)
    events = heard(session, board.state("rest", 2, 1047, reset=1))
    assert gaps(events) == [(0, 1041, 1045, LINK), (1, 1, 2, LINK)]


def test_several_lost_resets_leave_a_count_without_numbers(board: Board) -> None:
    """Where two resets went unheard nobody knows which ticks were whose: their number alone is told."""
    session = greeted(board)
    heard(session, board.state("rest", 1040, 1040))
    board.reset(1, 1045, 1045)
    board.reset(2, 7, 1052)
    events = heard(session, board.state("rest", 0, 1052, reset=2))
    assert [(event.reset, event.count, event.why) for event in events if isinstance(event, Unplaced)] == [(2, 12, LINK)]


def test_reset_starts_the_numbers_afresh(board: Board) -> None:
    """After a reset tick 1 is no gap and no repeat."""
    session = greeted(board)
    events = heard(session, board.reset(1, 1042, 1042), board.tick(1, reset=1), board.tick(2, reset=1))
    assert gaps(events) == [(0, 1041, 1042, LINK)]
    assert [event for event in events if isinstance(event, ResetDone)] == [ResetDone(5, 1, 1042, 1042)]
    assert ticks(events) == [1, 2]


def test_restart_of_the_board_is_no_gap(board: Board) -> None:
    """A greeting with a new boot number starts numbers again and says that the board restarted."""
    session = greeted(board)
    board.number = 0
    events = heard(session, board.hello(boot=6), board.tick(1))
    assert [event.restarted for event in events if isinstance(event, Greeting)] == [True]
    assert not gaps(events)
    assert session.last == (6, 0, 1)


def test_same_boot_number_goes_on_with_the_gap_stated(board: Board) -> None:
    """A session resumed after a pulled cable misses what was made meanwhile."""
    session = Session(2, resume=Place(5, 0, 1040, 0))
    events = heard(session, board.hello(tick=1100, edges=1100, mode="rest", waiting=0))
    assert gaps(events) == [(0, 1041, 1100, LINK)]


def test_ticks_since_a_restart_nobody_listened_to_are_missed(board: Board) -> None:
    """A session resumed after the board restarted misses what that start has made and nobody logged."""
    session = Session(2, resume=Place(4, 0, 1040, 0))
    events = heard(session, board.hello(reset=1, tick=12, edges=19, mode="rest", waiting=0))
    assert gaps(events) == [(0, 1, 7, LINK), (1, 1, 12, LINK)]
    assert [event.restarted for event in events if isinstance(event, Greeting)] == [True]


def test_board_met_for_the_first_time_misses_nothing_from_before(board: Board) -> None:
    """What a board has made before anybody listened, and told to nobody here, is no part of this account."""
    assert gaps(heard(Session(2), board.hello(tick=12, edges=12, mode="rest", waiting=0))) == []


def test_ticks_before_a_reset_nobody_heard_of_are_missed_after_resuming(board: Board) -> None:
    """A session resumed after the machine was reset: what had not arrived before that reset is a gap."""
    session = Session(2, resume=Place(5, 0, 1040, 100))
    events = heard(session, board.hello(reset=1, tick=3, edges=1148, mode="rest", waiting=0))
    assert gaps(events) == [(0, 1041, 1045, LINK), (1, 1, 3, LINK)]


def test_account_that_was_left_open_is_closed_after_resuming(board: Board) -> None:
    """What nobody could tell when the link went is told as a count once the board says how many edges there were."""
    session = Session(2, resume=Place(5, 1, 3, 1140))
    events = heard(session, board.hello(reset=1, tick=3, edges=1148, mode="rest", waiting=0))
    assert [(event.reset, event.count) for event in events if isinstance(event, Unplaced)] == [(1, 5)]


def test_account_that_was_left_open_is_closed_when_the_cable_is_in_again(board: Board) -> None:
    """Pulled between a reset that was not heard of and the edge count after it: the same session tells the gap then."""
    session = greeted(board)
    heard(session, board.state("rest", 1040, 1040))
    board.reset(1, 1045, 1045)
    heard(session, board.tick(1, reset=1))
    assert [event.count for event in session.disconnected() if isinstance(event, Unplaced)] == [0]
    events = heard(session, board.hello(reset=1, tick=1, edges=1046, mode="rest", waiting=0))
    assert gaps(events) == [(0, 1041, 1045, LINK)]


def test_two_resets_with_a_pulled_cable_between_leave_a_count_without_numbers(board: Board) -> None:
    """Of two resets neither was heard of, and between them the cable was pulled: no tick is said to be of either."""
    session = greeted(board)
    heard(session, board.state("rest", 1040, 1040))
    board.reset(1, 1045, 1045)
    heard(session, board.tick(1, reset=1))
    session.disconnected()
    board.reset(2, 4, 1049)
    events = heard(session, board.hello(reset=2, tick=0, edges=1049, mode="rest", waiting=0))
    assert [(event.reset, event.count) for event in events if isinstance(event, Unplaced)] == [(2, 8)]
    assert gaps(events) == []


def test_account_that_is_not_sure_places_no_tick_in_one_reset(board: Board) -> None:
    """Resumed from a log that was cut off with a reset unheard: after one more, nobody knows which ticks were whose."""
    session = Session(2, resume=Place(5, 1, 1, 1040, sure=False))
    events = heard(session, board.hello(reset=2, tick=0, edges=1049, mode="rest", waiting=0))
    assert [(event.reset, event.count) for event in events if isinstance(event, Unplaced)] == [(2, 8)]
    assert gaps(events) == []


def test_ticks_thrown_away_and_ticks_that_did_not_arrive_are_both_counted(board: Board) -> None:
    """The board threw seven away before a reset, three more had not arrived before that."""
    session = greeted(board)
    heard(session, board.state("rest", 1040, 1040))
    lost = board.say(messages.say("lost", reset=2, count=7, why="no-host"))
    events = heard(session, lost, board.reset(2, 4, 1050))
    assert [(event.reset, event.count) for event in events if isinstance(event, Unplaced)] == [(2, 7), (2, 3)]
    assert gaps(events) == []


def test_ticks_thrown_away_that_an_edge_count_has_told_of_are_not_counted_twice(board: Board) -> None:
    """A greeting goes ahead of all that waits: its edge count tells of the same ticks as the report that they are
    lost."""
    session = Session(2, resume=Place(5, 0, 1040, 0))
    told = heard(session, board.hello(reset=9, tick=0, edges=1047, mode="rest", waiting=0))
    told += heard(session, board.say(messages.say("lost", reset=9, count=7, why="no-host")))
    assert [(event.reset, event.count) for event in told if isinstance(event, Unplaced)] == [(9, 7)]


def test_ticks_thrown_away_before_anybody_listened_are_counted(board: Board) -> None:
    """A board that is met for the first time tells how many ticks it had no room for before its last reset."""
    told = heard(
        Session(1),
        board.hello(reset=9, tick=0, edges=1047, mode="rest", waiting=0),
        board.say(messages.say("lost", reset=9, count=7, why="no-host")),
    )
    assert [(event.reset, event.count) for event in told if isinstance(event, Unplaced)] == [(9, 7)]


def test_greeting_that_comes_again_does_not_bring_old_lines_back(board: Board) -> None:
    """A stretch repeated by the link, with a greeting and ticks thrown away in it, is passed over whole."""
    session = Session(1)
    lost = messages.say("lost", reset=0, count=7, why="no-host")
    stretch = board.hello(tick=1040, edges=1040) + board.say(lost) + board.tick(1041)
    assert [event.count for event in heard(session, stretch) if isinstance(event, Unplaced)] == [7]
    assert heard(session, stretch) == []


def test_line_of_another_start_is_never_taken_for_one_of_this(board: Board) -> None:
    """After resuming, and after a pulled cable, lines in front of the greeting are passed over: whose they are is not
    known before it."""
    session = Session(2, resume=Place(5, 0, 1040, 0))
    assert heard(session, board.tick(1041)) == []
    heard(session, board.hello(tick=1040, edges=1040, mode="rest", waiting=0))
    session.disconnected()
    assert heard(session, board.tick(1041)) == []


def test_what_comes_before_the_greeting_belongs_to_somebody_else(board: Board) -> None:
    """Stale lines in front of the greeting are passed over."""
    assert ticks(heard(Session(1), board.tick(7), board.hello(tick=9, edges=9))) == []


def test_bytes_left_when_the_link_goes_are_kept(board: Board) -> None:
    """Unplugged in the middle of a line: what came of it is damage, and nothing is made of it."""
    session = greeted(board, 2210)
    assert ticks(heard(session, board.tick(2211) + board.tick(2212)[:7])) == [2211]
    left = session.disconnected()
    assert [len(raw) for raw, _ in damage(left)] == [7]
    assert session.last == (5, 0, 2211)


def test_ticks_the_board_had_no_room_for_are_told_once(board: Board) -> None:
    """A gap that the board tells of is not found again as lost on the link."""
    session = greeted(board)
    gap = board.say(messages.say("gap", reset=0, first=1041, last=1050, why="log-full"))
    events = heard(session, gap, board.tick(1051))
    assert gaps(events) == [(0, 1041, 1050, "log-full")]


@pytest.mark.parametrize(
    ("kind", "fields"),
    [
        ("gap", {"reset": 0, "first": 1045, "last": 1041, "why": "no-host"}),
        ("reset", {"reset": 0, "tick": 3, "edges": 1040}),
        ("reset", {"reset": 1, "tick": 1040, "edges": 3}),
        ("block", {"reset": 0, "first": 1041, "count": 0, "time_us": 0, "period_ps": 1, "flags": 0, "check": 0}),
    ],
)
def test_report_that_cannot_be_true_is_damage(board: Board, kind: str, fields: dict[str, int | str]) -> None:
    """A line that is whole and makes no sense is kept as damage, and the account does not move."""
    session = greeted(board)
    line = board.say(messages.say(kind, **fields))
    assert damage(heard(session, line)) == [(line[:-1], 0)]
    assert session.last == (5, 0, 1040)


def test_gap_that_reaches_into_what_is_accounted_for_is_told_from_there_on(board: Board) -> None:
    """Ticks that a program before this one has told to be missing are in no second gap."""
    session = Session(2, resume=Place(5, 0, 1040, 0))
    gap = messages.say("gap", reset=0, first=1031, last=1050, why="log-full")
    events = heard(session, board.hello(tick=1050, edges=1050), board.say(gap))
    assert gaps(events) == [(0, 1041, 1050, "log-full")]


@pytest.mark.parametrize("number", [b"12", b"12345", b"00zz", b"-001", b"0x01", b"001a"])
def test_line_whose_running_number_is_none_is_damage(board: Board, number: bytes) -> None:
    """A running number is four hexadecimal digits; a line that has another is kept as damage, whatever its check."""
    session = greeted(board)
    body = number + b" tick 0 1041 0 0 1 0"
    line = b"#%s %08X" % (body, crc32(body))
    assert damage(heard(session, line + b"\n")) == [(line, 0)]
    assert session.last == (5, 0, 1040)


@pytest.mark.parametrize("kind", sorted(messages.REPORTS))
def test_every_report_is_read_as_the_table_has_it(kind: str) -> None:
    """Every report of the table has a reader, which takes all its fields, in the table's order."""
    taken = inspect.signature(Session(1)._readers[kind]).parameters.values()
    if [each.kind for each in taken] != [inspect.Parameter.VAR_POSITIONAL]:
        names = ["command_id" if name == "id" else name for name, _ in messages.REPORTS[kind]]
        assert [each.name for each in taken] == names
