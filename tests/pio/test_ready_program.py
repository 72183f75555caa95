"""The ready line's program, cycle by cycle on two emulators: ready for one cycle of the clock, after the right edge."""

from __future__ import annotations

import itertools

import adafruit_pioasm
import pytest

from handtick_board.edge_stamps import WORDS as STAMPS
from handtick_board.ready_program import LEAST_PHASE, MOST_CYCLES, ReadyProgram, passed
from handtick_board.ready_source import source

from .bench import MEMORY_WORDS
from .ready_bench import CLOCK, READY, WRITES, OnPioemu, OnRp2040py, ReadyBench

KINDS = {"pioemu": OnPioemu, "rp2040py": OnRp2040py}
WIRINGS = list(itertools.product((True, False), (True, False), (None, WRITES), (True, False)))


def program(wiring: tuple[bool, bool, int | None, bool]) -> ReadyProgram:
    """The program for one."""
    return ReadyProgram(READY, CLOCK, *wiring)


class Story:
    """A clock that runs, a machine clocked by its other edge, and what was seen of both.

    Attributes:
        looks: the ready line at each edge that clocks the machine.
        moves: cycles from the edge before to each change of the ready line.
    """

    def __init__(self, bench: ReadyBench, high: int, low: int, writing: tuple[bool, ...] = ()) -> None:
        self.bench = bench
        self.looks: list[bool] = []
        self.moves: list[int] = []
        self.cycles = 0
        self._lengths = (low, high)
        self._writing = writing
        self._left = self._lengths[bench.clock]
        self._since = 0
        self._after_falling = True

    def run(self, cycles: int) -> None:
        """Lets so many cycles of the system clock pass."""
        bench = self.bench
        for _ in range(cycles):
            if self._left == 0:
                bench.clock ^= 1
                self._left = self._lengths[bench.clock]
                self._since = 0
                if bench.clock == self._after_falling:
                    self._clock_machine()
            before = bench.pin
            bench.run()
            self._left -= 1
            self._since += 1
            if bench.pin != before:
                self.moves.append(self._since)

    def until_idle(self) -> None:
        """Lets cycles pass until the program is done, and a whole tick more."""
        for _ in range(50 * sum(self._lengths)):
            self.run(1)
            if not self.bench.busy:
                self.run(sum(self._lengths))
                return
        raise AssertionError("it never came to idle")

    def _clock_machine(self) -> None:
        ready = self.bench.pin == self.bench.program.ready
        self.looks.append(ready)
        if ready or self._writes():
            self.cycles += 1
        self.bench.writes = int(self._writes() == self.ignored_high)

    ignored_high = True

    def _writes(self) -> bool:
        return self.cycles < len(self._writing) and self._writing[self.cycles]


def story(kind: str, wiring: tuple[bool, bool, int | None, bool], high: int, low: int, writing=()) -> Story:  # type: ignore[no-untyped-def]
    """One that begins with the machine ready and the clock low."""
    it = Story(KINDS[kind](program(wiring)), high, low, writing)
    it._after_falling = wiring[0]
    it.ignored_high = wiring[3]
    it.bench.writes = int(it._writes() == it.ignored_high)
    return it


@pytest.mark.parametrize("wiring", WIRINGS, ids=str)
def test_words_are_the_text_assembled(wiring: tuple[bool, bool, int | None, bool]) -> None:
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
    assert len(program(WIRINGS[0]).words) + len(STAMPS) <= MEMORY_WORDS


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("wiring", WIRINGS, ids=str)
def test_step_is_ready_at_one_edge_whenever_it_is_asked_for(
    kind: str, wiring: tuple[bool, bool, int | None, bool]
) -> None:
    """Let go at every cycle of a clock with the shortest phases: ready at one edge of the machine, and no more."""
    moves: list[int] = []
    for offset in range(2 * LEAST_PHASE):
        it = story(kind, wiring, LEAST_PHASE, LEAST_PHASE)
        it.run(10)
        it.bench.force(it.bench.program.hold(it.bench.offset))
        it.until_idle()
        assert [passed(word) for word in it.bench.words] == [0]
        it.run(offset)
        it.looks.clear()
        for step in range(2):
            it.bench.force(it.bench.program.step(it.bench.offset))
            it.until_idle()
            assert it.looks.count(True) == step + 1
        assert [passed(word) for word in it.bench.words] == [0, 0, 0]
        assert len(it.moves) == 5
        moves += it.moves
    assert max(moves) <= MOST_CYCLES
    if kind == "rp2040py":
        assert max(moves) == MOST_CYCLES


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("ignored_high", [True, False])
@pytest.mark.parametrize("writing", list(itertools.product((False, True), repeat=3)))
def test_cycles_in_which_it_is_ignored_are_counted(kind: str, ignored_high: bool, writing: tuple[bool, ...]) -> None:
    """The machine goes on through a row of writes after its step; so many are handed out, and it is held after them."""
    it = story(kind, (True, True, WRITES, ignored_high), 31, 40, (False, False, *writing))
    it.bench.force(it.bench.program.hold_now(it.bench.offset))
    it.run(100)
    assert it.cycles == 0
    at = 0
    for _ in range(4):
        it.bench.words.clear()
        it.bench.force(it.bench.program.step(it.bench.offset))
        it.until_idle()
        at += 1
        more = 0
        while at < 2 + len(writing) and (False, False, *writing)[at]:
            at, more = at + 1, more + 1
        assert [passed(word) for word in it.bench.words] == [more]
        assert it.cycles == at
        it.run(300)
        assert it.cycles == at


@pytest.mark.parametrize("kind", KINDS)
def test_machine_that_is_let_go_stays_ready(kind: str) -> None:
    """From one edge on, at every one; nothing is handed out."""
    it = story(kind, (True, True, None, True), 30, 30)
    it.bench.force(it.bench.program.hold(it.bench.offset))
    it.until_idle()
    it.bench.words.clear()
    it.bench.force(it.bench.program.let_go(it.bench.offset))
    it.until_idle()
    it.looks.clear()
    it.run(600)
    assert it.looks == [True] * len(it.looks)
    assert len(it.looks) >= 9
    assert it.bench.words == []


@pytest.mark.parametrize("kind", KINDS)
def test_step_that_meets_no_edge_can_be_given_up(kind: str) -> None:
    """The clock stands still: it waits, and given up it is at idle with the machine ready."""
    it = story(kind, (True, True, None, True), 30, 30)
    it.bench.force(it.bench.program.hold_now(it.bench.offset))
    it.bench.force(it.bench.program.step(it.bench.offset))
    it.bench.run(500)
    assert it.bench.busy
    assert it.bench.pin == 0
    it.bench.force(it.bench.program.give_up(it.bench.offset))
    it.bench.run(10)
    assert not it.bench.busy
    assert it.bench.pin == 1


@pytest.mark.parametrize("at", range(len(program(WIRINGS[0]).words)))
def test_every_instruction_is_needed(at: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """With one that does nothing in its place, a promise above is broken."""
    promises()
    whole = program((True, True, WRITES, True))
    whole.words[at] = 0xA042
    monkeypatch.setitem(globals(), "program", lambda wiring: whole)
    with pytest.raises(AssertionError):
        promises()


def promises() -> None:
    """All that is promised, for one wiring."""
    wiring = (True, True, WRITES, True)
    test_step_is_ready_at_one_edge_whenever_it_is_asked_for("rp2040py", wiring)
    test_cycles_in_which_it_is_ignored_are_counted("rp2040py", True, (True, True, False))
    it = story("rp2040py", wiring, 30, 30)
    it.bench.force(it.bench.program.let_go(it.bench.offset))
    it.until_idle()
    it.looks.clear()
    it.run(600)
    assert it.looks == [True] * len(it.looks)
    assert it.bench.words == []
