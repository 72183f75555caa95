"""Who may move the clock when, and what is told about it."""

from __future__ import annotations

import pytest

from handtick.links.virtual import VirtualLink
from handtick.virtual.board import VirtualBoard
from handtick_board import transitions
from handtick_board.conductor import Conductor
from handtick_board.settings import Settings
from handtick_wire import messages, reasons
from tests.board.hearing import Hearing
from tests.board.still_machine import Counter, StillMachine

pytestmark = pytest.mark.usefixtures("on_pins")

#: Pairs of mode and event that cannot come about, each with why.
IMPOSSIBLE = {
    ("rest", "run again"): "no run is on",
    ("held", "run again"): "no run is on",
    ("ending", "run again"): "a run that is ending is not continued",
    ("waiting", "run again"): "a run that waits is refused anew as full",
    ("reset", "run again"): "no run is on",
    **{
        (mode, "press by hand"): "only asked while a press is being made"
        for mode in transitions.MODES
        if mode != "moving"
    },
    **{(mode, "edge made"): "only half a tick tells of its edge" for mode in transitions.MODES if mode != "held"},
    **{(mode, "at rest"): "the clock rests already" for mode in ("rest", "waiting")},
    **{(mode, "no room"): "no whole tick is asked for" for mode in ("rest", "waiting", "reset")},
    **{(mode, "room"): "nothing waits for room" for mode in transitions.MODES if mode != "waiting"},
    **{(mode, "rested"): "nothing is being reset" for mode in transitions.MODES if mode != "reset"},
}


def connected(settings: Settings | None = None) -> tuple[VirtualBoard, Hearing]:
    """A board with a counter on it, and a host that has greeted."""
    board = VirtualBoard(Counter(), settings)
    return board, Hearing(VirtualLink(board))


def after(board: VirtualBoard, us: int) -> None:
    """Lets so many microseconds pass."""
    board.run_until(board.now_us + us)


def test_table_says_what_happens_in_every_mode() -> None:
    """Every event has a row for every mode, but for pairs that cannot come about; none has both."""
    events = {event for _, event in transitions.TRANSITIONS}
    every_pair = {(mode, event) for mode in transitions.MODES for event in events}
    assert every_pair == set(transitions.TRANSITIONS) | set(IMPOSSIBLE)
    assert not set(transitions.TRANSITIONS) & set(IMPOSSIBLE)


def test_table_names_modes_and_actions_that_are_there() -> None:
    """Every row of the table leads to a mode, by something the conductor can do; a refusal leads nowhere else."""
    for (mode, _), (action, mode_after) in transitions.TRANSITIONS.items():
        assert mode in transitions.MODES
        assert mode_after in transitions.MODES
        assert callable(getattr(Conductor, "_" + action))
        assert mode_after == mode or not action.startswith("refuse")


def test_advance_to_the_present_tick_makes_none() -> None:
    """Asked for the tick the clock stands at, it makes no tick and says that it is there."""
    board, hearing = connected()
    hearing.ask("burst", 1000, "1000")
    assert hearing.ask("to", 1000, "100").kind == "done"
    assert board.board.clock.edges == 1000
    assert hearing.notices[-1].what == reasons.ALREADY_THERE


def test_advance_backwards_is_refused_and_forwards_is_exact() -> None:
    """From tick 1000, tick 999 is refused without a tick, and tick 1001 is one tick on."""
    board, hearing = connected()
    hearing.ask("burst", 1000, "1000")
    assert hearing.ask("to", 999, "100").why == reasons.BEHIND
    assert board.board.clock.edges == 1000
    assert hearing.ask("to", 1001, "100").tick == 1001
    assert board.board.clock.edges == 1001


@pytest.mark.parametrize("word", ["1.5", "-1", "abc", str(1 << 64), "", "1e3", "0x10", "１"])
def test_advance_to_what_is_no_tick_is_refused(word: str) -> None:
    """A tick number that is none is refused, and no tick is made."""
    board, hearing = connected()
    assert hearing.ask("to", word, "100").why == reasons.BAD_FIELDS
    assert board.board.clock.edges == 0


def test_advance_past_two_to_the_thirty_two_counts_on() -> None:
    """From tick 4294967290, tick 4294967300 is ten ticks on."""
    board, hearing = connected()
    board.board.clock.tick = 4_294_967_290
    edges = board.board.clock.edges
    assert hearing.ask("to", 4_294_967_300, "100").tick == 4_294_967_300
    assert board.board.clock.edges - edges == 10


def test_press_during_an_advance_is_refused_and_the_count_stays_right() -> None:
    """A press in the middle of an advance makes no tick of its own; the advance ends where it should."""
    board, hearing = connected()
    board.press([(0, 1), (50_000, 0)], board.now_us + 300_000)
    assert hearing.ask("to", 100, "100").tick == 100
    assert [notice.what for notice in hearing.notices] == [reasons.PRESS_REFUSED]
    assert board.board.clock.edges == 100 == len(board.rising_edges_us)


@pytest.mark.parametrize("offset_us", [0, 1, 4999, 5000, 5001, 9999, 10_000, 10_001, 14_000])
def test_advance_cancelled_at_any_moment_rests_with_a_true_count(offset_us: int) -> None:
    """Halted at any moment of an advance, the line rests low, the answer tells the tick, and the edges agree."""
    board, hearing = connected()
    command_id = hearing.send("to", 2000, "100")
    after(board, 300_000 + offset_us)
    hearing.ask("halt")
    (answer,) = hearing.answers(command_id)
    assert (answer.kind, answer.why) == ("failed", reasons.HALTED)
    assert answer.tick == board.board.clock.tick == len(board.rising_edges_us)
    assert board.line.value is False


def test_presses_while_a_hand_made_tick_is_under_way_are_one_tick_each() -> None:
    """With ticks of two seconds made by hand, three presses in the first of them are two more ticks after it."""
    settings = Settings()
    settings.step_us = 1_000_000
    board = VirtualBoard(StillMachine(), settings)
    for at_us in (0, 200_000, 400_000):
        board.press([(0, 1), (60_000, 0)], at_us)
    board.run_until(10_000_000)
    assert board.rising_edges_us == [100, 2_000_100, 4_000_100]


def test_reset_asserts_at_once_finishes_the_tick_and_ticks_clean_under_it() -> None:
    """Reset in mid-high asserts the line at once; the high ends whole, two clean ticks follow, then it is released."""
    board, hearing = connected()
    hearing.ask("run", "10")
    start_us = board.rising_edges_us[0]
    board.run_until(start_us + 20_000)
    command_id = hearing.send("reset")
    hearing.listen(1.0)
    assert hearing.answers(command_id)[0].kind == "done"
    (asserted_us, _), (released_us, _) = board.reset_line.edges
    assert asserted_us == start_us + 20_000
    clean = [at_us for at_us in board.rising_edges_us if asserted_us < at_us < released_us]
    assert len(clean) == 2
    assert clean[0] >= start_us + 100_000
    assert (start_us + 50_000, False) in board.line.edges
    assert board.line.value is False
    assert released_us > board.line.edges[-1][0]


def test_ticks_under_reset_belong_to_the_row_before_and_the_next_is_tick_one() -> None:
    """Ticks under reset go on in the old numbering, marked; the first tick after release is tick 1."""
    _, hearing = connected()
    hearing.ask("step", 3)
    hearing.ask("reset")
    hearing.ask("step", 1)
    rows = [(tick.reset, tick.tick, tick.flags) for tick in hearing.ticks]
    marked = messages.FLAG_IN_RESET
    assert rows == [(0, 1, 0), (0, 2, 0), (0, 3, 0), (0, 4, marked), (0, 5, marked), (1, 1, 0)]
    assert (hearing.resets[0].last_tick, hearing.resets[0].edges) == (5, 5)


def test_commands_during_a_run_are_refused_with_the_reason() -> None:
    """While the clock runs, a step, a half tick and a burst are refused and make nothing."""
    board, hearing = connected()
    hearing.ask("run", "10")
    for command in (("step", 1), ("half",), ("burst", 3, "10"), ("to", 50, "10")):
        assert hearing.ask(*command).why == reasons.RUNNING  # type: ignore[arg-type]
    hearing.ask("halt")
    assert board.board.clock.edges == len(board.rising_edges_us)


def test_run_again_is_a_new_rate_without_a_stop() -> None:
    """Asked to run at another rate while it runs, the clock goes on at that rate, and says so."""
    board, hearing = connected()
    hearing.ask("run", "10")
    hearing.ask("run", "100")
    after(board, 500_000)
    hearing.ask("halt")
    assert board.board.clock.edges >= 50
    assert [state.why for state in hearing.states] == [reasons.ASKED, reasons.RATE, reasons.HALTED]


def test_host_that_goes_leaves_the_clock_at_rest() -> None:
    """When the host closes the port in mid-high, the tick is finished and the line rests."""
    board, hearing = connected()
    hearing.ask("run", "10")
    after(board, 20_000)
    board.port.host_close()
    after(board, 1_000_000)
    assert board.board.conductor.mode == "rest"
    assert board.line.value is False
    assert [end - start for (start, _), (end, _) in [board.line.edges[:2]]] == [50_000]


def test_board_set_to_run_on_does_so_when_the_host_goes() -> None:
    """With the setting for it, the clock runs on when the host closes the port."""
    settings = Settings()
    settings.when_host_gone = "run"
    board, hearing = connected(settings)
    hearing.ask("run", "100")
    board.port.host_close()
    after(board, 1_000_000)
    assert board.board.clock.edges >= 100


def test_too_fast_a_rate_is_refused() -> None:
    """A rate above what the engine can make is refused with the reason, and the clock stays at rest."""
    board, hearing = connected()
    too_fast = messages.write_rate(board.board.clock.top_rate_mhz + 1)
    assert hearing.ask("run", too_fast).why == reasons.TOO_FAST
    after(board, 1_000_000)
    assert board.board.clock.edges == 0
