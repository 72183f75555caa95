"""Several commands that come in one read, and what is left over from the one before: each means what it says."""

from __future__ import annotations

from binascii import crc32

import pytest

from handtick.events import Answer
from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board.settings import Settings
from handtick_wire import reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter


def connected(ring: int = 4096) -> tuple[VirtualBoard, Hearing]:
    """A board with a counter on it, and a host that has greeted."""
    settings = Settings()
    settings.ring = ring
    board = VirtualBoard(Counter(), settings)
    return board, Hearing(VirtualLink(board))


def after(board: VirtualBoard, us: int) -> None:
    """Lets so many microseconds pass."""
    board.run_until(board.now_us + us)


def at_once(board: VirtualBoard, hearing: Hearing, *commands: tuple[str | int, ...]) -> list[int]:
    """Sends commands in one write, so that the board reads them in one pass; returns their ids."""
    ids, data = [], b""
    for kind, *values in commands:
        command_id, line = hearing.session.command(str(kind), *values)
        ids.append(command_id)
        data += line
    board.port.host_write(data)
    board.run_until(board.now_us)
    return ids


def answers(hearing: Hearing, ids: list[int]) -> list[tuple[str, str]]:
    """Kind and reason of the one answer that each command got."""
    hearing.listen()
    found: list[Answer] = []
    for command_id in ids:
        (answer,) = hearing.answers(command_id)
        found.append(answer)
    return [(answer.kind, answer.why) for answer in found]


def test_two_halves_at_once_with_a_full_ring_fail_and_the_board_goes_on() -> None:
    """No edge is made for want of room, both are told so, and nothing else is."""
    board, hearing = connected(ring=16)
    hearing.ask("stop_when", "N1,T=99999")
    board.port._room = 0
    at_once(board, hearing, ("step", 40))
    after(board, 1_000_000)
    at_once(board, hearing, ("halt",))
    made = board.board.clock.edges
    ids = at_once(board, hearing, ("half",), ("half",))
    after(board, 100_000)
    board.port._room = 4096
    after(board, 1_000_000)
    assert answers(hearing, ids) == [("failed", reasons.LOG_FULL)] * 2
    assert board.board.clock.edges == made
    assert hearing.ask("step", 1).tick == made + 1


def test_two_halves_at_once_before_a_tick_that_a_rule_keeps_away_fail() -> None:
    """The rule holds before the first edge: neither edge is made, and both are told why."""
    board, hearing = connected()
    hearing.ask("stop_when", "N1,B,E0=0")
    ids = at_once(board, hearing, ("half",), ("half",))
    after(board, 100_000)
    assert answers(hearing, ids) == [("failed", reasons.RULE)] * 2
    assert board.board.clock.edges == 0


def test_two_halves_at_once_make_a_tick_and_a_halt_behind_them_none() -> None:
    """A tick that has not begun when the halt comes is not begun."""
    board, hearing = connected()
    ids = at_once(board, hearing, ("half",), ("half",))
    after(board, 100_000)
    assert answers(hearing, ids) == [("done", "")] * 2
    assert board.board.clock.edges == 1
    ids = at_once(board, hearing, ("half",), ("half",), ("halt",))
    after(board, 100_000)
    assert answers(hearing, ids) == [("failed", reasons.HALTED)] * 2 + [("done", "")]
    assert board.board.clock.edges == 1


def test_half_and_then_to_the_present_tick_is_a_halt_with_a_reason() -> None:
    """The half tick is given up, and everybody is told why."""
    board, hearing = connected()
    ids = at_once(board, hearing, ("half",), ("to", 0, "10"))
    after(board, 100_000)
    assert answers(hearing, ids) == [("failed", reasons.HALTED), ("done", "")]
    assert hearing.states[-1].why == reasons.HALTED


def test_a_run_behind_a_halt_does_not_go_past_the_halt_line() -> None:
    """It is refused as it would be at rest, though the line was asserted while the tick in hand ended."""
    board, hearing = connected()
    hearing.ask("run", "100")
    after(board, 12_000)
    board.halt_pin.forced = True
    ids = at_once(board, hearing, ("halt",), ("run", "100"))
    after(board, 500_000)
    assert answers(hearing, ids) == [("done", ""), ("refused", reasons.HALT_LINE)]
    assert board.board.clock.tick == 2, "the tick in hand was the second one"


@pytest.mark.parametrize("bursts", [False, True])
def test_a_run_that_waited_for_room_does_not_go_past_the_halt_line(
    bursts: bool, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The line was asserted meanwhile: the run is over, and no tick is made."""
    monkeypatch.setattr(VirtualBoard, "bursts", bursts)
    board, hearing = connected(ring=16)
    board.port._room = 0
    hearing.send("run", "100")
    after(board, 2_000_000)
    made = board.board.clock.tick
    board.halt_pin.forced = True
    after(board, 1_000_000)
    board.port._room = 4096
    for _ in range(50):
        hearing.take()
        after(board, 10_000)
    assert board.board.clock.tick == made
    assert (hearing.states[-1].mode, hearing.states[-1].why) == ("rest", reasons.HALT_LINE)


def test_a_refused_burst_leaves_the_rate_alone() -> None:
    """The run/halt button goes on at the rate that was asked for last and not refused."""
    board, hearing = connected()
    hearing.ask("run", "10")
    assert hearing.ask("burst", 5, "1000").why == reasons.RUNNING
    hearing.ask("halt")
    made = board.board.clock.tick
    board.board.conductor.run_or_halt()
    after(board, 1_000_000)
    assert board.board.clock.tick - made <= 12


@pytest.mark.parametrize("command", [("rate", "100"), ("run", "100")])
def test_a_run_that_becomes_slow_is_sampled_again(command: tuple[str, str]) -> None:
    """Every tick is, up to 100 kHz; how the run began does not matter."""
    board, hearing = connected()
    hearing.ask("run", "1000000")
    after(board, 10_000)
    hearing.ask(*command)
    after(board, 100_000)
    hearing.listen()
    heard, made = len(hearing.ticks), board.board.clock.tick
    after(board, 2_000_000)
    hearing.ask("halt")
    hearing.listen()
    assert board.board.clock.tick - made >= 199
    assert len(hearing.ticks) - heard >= 199
    assert {gap.why for gap in hearing.gaps} == {reasons.NOT_SAMPLED}


def test_what_a_host_asked_for_ends_with_its_connection() -> None:
    """The next one's ticks obey the halt line, are sampled as ever and move no trigger."""
    board, hearing = connected()
    hearing.ask("ignore_halt", 1000)
    hearing.ask("samples", "last")
    hearing.ask("trigger", 3)
    board.port.host_close()
    after(board, 1000)
    hearing = Hearing(VirtualLink(board), nonce=2)
    board.halt_pin.forced = True
    after(board, 10)
    assert hearing.ask("run", "1000").why == reasons.HALT_LINE
    board.halt_pin.forced = False
    after(board, 10)
    assert hearing.ask("burst", 3000, "1000").kind == "done"
    hearing.listen()
    assert [tick.tick for tick in hearing.ticks] == list(range(1, 3001))
    assert board.trigger.edges == []


def test_a_trigger_far_ahead_makes_no_burst_longer_than_the_line_can_count() -> None:
    """A burst of more than 2^30 - 1 ticks would make fewer than it is said to have made."""
    board, hearing = connected()
    hearing.ask("trigger", 2_000_000_000)
    hearing.ask("run", "9000000")
    after(board, 10)
    assert board.board.clock.edges_at(board.now_us) < 1000
    assert board.board.clock._burst == (1 << 30) - 1  # type: ignore[union-attr]


@pytest.mark.parametrize("trigger", [0, 3, 4, 5])
def test_a_rule_before_ticks_is_judged_once_a_tick_wherever_the_trigger_is(trigger: int) -> None:
    """Two in a row are two ticks, though one of them waits a while for the trigger to have stood."""
    _, hearing = connected()
    hearing.ask("stop_when", "N2,B,T>3")
    if trigger:
        hearing.ask("trigger", trigger)
    assert hearing.ask("burst", 20, "1000").tick == 4


@pytest.mark.parametrize("rule", ["N1,S-1.F>3", "N1,E-1=0", "N1,C-F", "N1,T>-5", "N1,S1.-F>3", "N1,S1.F<-3"])
def test_a_rule_with_a_negative_number_is_none(rule: str) -> None:
    """It is refused, and the next tick is made as ever."""
    _, hearing = connected()
    assert hearing.ask("stop_when", rule).why == reasons.BAD_RULE
    assert hearing.ask("step", 1).tick == 1


def test_a_line_whose_number_is_no_text_is_damage() -> None:
    """Though its check is right; the board goes on."""
    board, hearing = connected()
    body = b"\xff1 status"
    board.port.host_write(b"@%s %08X\n" % (body, crc32(body)))
    after(board, 1000)
    assert hearing.ask("step", 1).tick == 1
