"""The ready line's program, cycle by cycle on two emulators: ready for one cycle of the clock, after the right edge."""

from __future__ import annotations

import itertools
import os
from functools import partial
from pathlib import Path

import adafruit_pioasm
import pytest

from handtick_board.edge_stamps import WORDS as STAMPS
from handtick_board.ready_program import MOST_CYCLES, ReadyProgram
from handtick_board.ready_source import source
from handtick_board.ready_steps import LEAST_PHASE

from . import ready_claims as claims
from .bench import MEMORY_WORDS
from .ready_bench import CLOCK, READY, WRITES, OnPioemu, OnRp2040py
from .ready_claims import WRITING, ReadyWiring

KINDS = {"pioemu": OnPioemu, "rp2040py": OnRp2040py}
WIRINGS = [
    ReadyWiring(*each) for each in itertools.product((True, False), (True, False), (None, WRITES), (True, False))
]
# The other emulator is slower: one of each edge and level, or with HANDTICK_LONG=1 all.
SLOW = [("pioemu", each) for each in (WIRINGS if os.environ.get("HANDTICK_LONG") == "1" else WIRINGS[::5])]


def maker(kind: str, wiring: ReadyWiring) -> claims.Make:
    """Makes benches of a kind."""
    return partial(KINDS[kind], wiring.program())


@pytest.mark.parametrize("wiring", WIRINGS, ids=str)
def test_words_are_the_text_assembled(wiring: ReadyWiring) -> None:
    """For every wiring, and every pin it can have."""
    for pin, clock in ((27, 16), (2, 16), (28, 3)):
        text = adafruit_pioasm.Program(source(pin, clock, *wiring))
        words = ReadyProgram(pin, clock, *wiring)
        assert list(words.words) == list(text.assembled)
        assert (words.idle, words.wrap) == (text.pio_kwargs["wrap_target"], text.pio_kwargs["wrap"])


def test_words_run_by_hand_are_the_text_assembled() -> None:
    """What sends it off is what it says."""
    words = ReadyProgram(READY, CLOCK)

    def assembled(text: str) -> list[int]:
        return list(adafruit_pioasm.assemble(".side_set 1 opt\n" + text))

    assert list(words.step(7))[:2] == assembled("mov isr, ~null\nmov y, null")
    assert list(words.hold(7))[:2] == assembled("mov isr, null\nmov y, ~null")
    assert list(words.let_go(7))[:2] == assembled("mov isr, null\nmov y, null")
    assert [way(7)[2] for way in (words.step, words.hold, words.let_go)] == [8, 8, 8]
    assert list(words.give_up(7)) == [7, *assembled("nop side 1")]
    assert list(words.hold_now(7)) == [7, *assembled("nop side 0")]


def test_it_fits_beside_the_tick_button_s_program() -> None:
    """The clock's has a block of its own; this one and the button's share the other."""
    assert len(WRITING.program().words) + len(STAMPS) <= MEMORY_WORDS


@pytest.mark.parametrize(("kind", "wiring"), [*(("rp2040py", each) for each in WIRINGS), *SLOW], ids=str)
def test_step_is_ready_at_one_edge_whenever_it_is_asked_for(kind: str, wiring: ReadyWiring) -> None:
    """Asked for at every cycle of a clock with the shortest phases; the ready line moves when it says, and no later."""
    assert claims.step_is_ready_at_one_edge(maker(kind, wiring), wiring) == MOST_CYCLES


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("ignored_high", [True, False])
@pytest.mark.parametrize("writing", list(itertools.product((False, True), repeat=3)))
def test_cycles_in_which_it_is_ignored_are_counted(kind: str, ignored_high: bool, writing: tuple[bool, ...]) -> None:
    """The machine goes on through a row of writes after its step; so many are handed out, and it is held after them."""
    wiring = WRITING._replace(ignored_high=ignored_high)
    claims.counts_cycles_not_held(maker(kind, wiring), wiring, writing)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("wiring", [ReadyWiring(), ReadyWiring(False, False)], ids=str)
def test_machine_that_is_let_go_stays_ready(kind: str, wiring: ReadyWiring) -> None:
    """From one edge on, at every one; nothing is handed out."""
    claims.stays_ready_once_let_go(maker(kind, wiring), wiring)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("wiring", [ReadyWiring(), ReadyWiring(False, False)], ids=str)
def test_step_that_meets_no_edge_can_be_given_up(kind: str, wiring: ReadyWiring) -> None:
    """The clock stands still: it waits, and given up it is at idle with the machine ready."""
    claims.can_be_given_up(maker(kind, wiring), wiring)


def test_page_has_the_figures() -> None:
    """The page about clocks that may not stop says how long the program is, how late it moves, and what it bears."""
    page = (Path(__file__).parents[2] / "docs/clocks-that-may-not-stop.md").read_text(encoding="utf-8")
    for figure in (
        f"{len(WRITING.program().words)}\ninstructions",
        f"at most {MOST_CYCLES} cycles of the system clock later, {8 * MOST_CYCLES} ns at 125 MHz",
        f"a phase\nunder {LEAST_PHASE} cycles, {8 * LEAST_PHASE} ns, is refused",
    ):
        assert figure in page
