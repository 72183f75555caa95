"""What must hold of the ready line's PIO program, on either emulator. Each claim raises AssertionError."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from typing import NamedTuple

from handtick_board.ready_program import MOST_CYCLES, ReadyProgram, passed
from handtick_board.ready_steps import LEAST_PHASE

from .ready_bench import CLOCK, OTHERS, READY, WRITES, ReadyBench

#: Makes a bench.
Make = Callable[[], ReadyBench]


class ReadyWiring(NamedTuple):
    """What a program is made for; see ``ReadyProgram``."""

    after_falling: bool = True
    ready_high: bool = True
    ignored_pin: int | None = None
    ignored_high: bool = True

    def program(self) -> ReadyProgram:
        """The program."""
        return ReadyProgram(READY, CLOCK, *self)


WRITING = ReadyWiring(ignored_pin=WRITES)


class Story:
    """A clock that runs, a machine clocked by one of its edges, and what was seen of both.

    Args:
        bench: with the machine ready and the clock low.
        wiring: which edge clocks the machine, and at which level it ignores the ready line.
        high, low: lengths of the clock's phases, in cycles.
        writing: for each cycle of the machine from its start on, whether it ignores the ready line in it.

    Attributes:
        looks: whether the machine was ready, at each edge that clocks it.
        moves: cycles from the edge before to each change of the ready line.
        cycles: how many the machine has gone through.
    """

    def __init__(
        self, bench: ReadyBench, wiring: ReadyWiring, high: int, low: int, writing: tuple[bool, ...] = ()
    ) -> None:
        self.bench = bench
        self.looks: list[bool] = []
        self.moves: list[int] = []
        self.cycles = 0
        self._wiring = wiring
        self._lengths = (low, high)
        self._writing = writing
        self._left = low
        self._since = 0
        bench.writes = int(self._writes() == wiring.ignored_high)

    def run(self, cycles: int) -> None:
        """Lets so many cycles of the system clock pass."""
        bench = self.bench
        for _ in range(cycles):
            if self._left == 0:
                bench.clock ^= 1
                self._left = self._lengths[bench.clock]
                self._since = 0
                if bench.clock == self._wiring.after_falling:
                    self._clock_machine()
            before = bench.pin
            bench.run()
            self._left -= 1
            self._since += 1
            if bench.pin != before:
                assert bench.clock != self._wiring.after_falling, "it moves after the edge that clocks the machine"
                self.moves.append(self._since)

    def send_off(self, way: Callable[[int], Iterable[int]]) -> None:
        """Sends the program off one way, and lets cycles pass until it is done, and a whole tick more."""
        self.bench.force(way(self.bench.offset))
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
        self.bench.writes = int(self._writes() == self._wiring.ignored_high)

    def _writes(self) -> bool:
        return self.cycles < len(self._writing) and self._writing[self.cycles]


def step_is_ready_at_one_edge(make: Make, wiring: ReadyWiring) -> int:
    """Asked for at every cycle of a clock with the shortest phases: ready at one edge of the machine, and no more.

    Returns:
        The most cycles from the clock's edge to a change of the ready line.
    """
    moves: list[int] = []
    for offset in range(2 * LEAST_PHASE):
        it = Story(make(), wiring, LEAST_PHASE, LEAST_PHASE)
        program = it.bench.program
        it.bench.others = OTHERS if offset % 2 else 0
        it.run(10)
        it.send_off(program.hold)
        assert [passed(word) for word in it.bench.words] == [0]
        it.run(offset)
        it.looks.clear()
        for step in range(2):
            it.send_off(program.step)
            assert it.looks.count(True) == step + 1
        assert [passed(word) for word in it.bench.words] == [0, 0, 0]
        assert len(it.moves) == 5
        moves += it.moves
    assert max(moves) <= MOST_CYCLES
    return max(moves)


def counts_cycles_not_held(make: Make, wiring: ReadyWiring, writing: tuple[bool, ...]) -> None:
    """The machine goes on through a row of writes after its step; so many are handed out, and it is held after them."""
    writing = (False, False, *writing)
    for others in (0, OTHERS):
        it = Story(make(), wiring, 31, 40, writing)
        program = it.bench.program
        it.bench.others = others
        it.bench.force(program.hold_now(it.bench.offset))
        it.run(100)
        assert it.cycles == 0
        at = 0
        for _ in range(4):
            it.bench.words.clear()
            it.moves.clear()
            it.send_off(program.step)
            at += 1
            more = 0
            while at < len(writing) and writing[at]:
                at, more = at + 1, more + 1
            assert [passed(word) for word in it.bench.words] == [more]
            assert it.cycles == at
            it.run(300)
            assert it.cycles == at
            assert len(it.moves) == 2, "there and back, whatever is ignored"


def stays_ready_once_let_go(make: Make, wiring: ReadyWiring) -> None:
    """From one edge on, at every one; nothing is handed out."""
    it = Story(make(), wiring, 30, 30)
    program = it.bench.program
    it.send_off(program.hold)
    it.bench.words.clear()
    it.send_off(program.let_go)
    it.looks.clear()
    it.run(600)
    assert it.looks == [True] * len(it.looks)
    assert len(it.looks) >= 9
    assert it.bench.words == []


def can_be_given_up(make: Make, wiring: ReadyWiring) -> None:
    """The clock stands still: a step waits; given up, the machine is ready and the program at idle."""
    bench = make()
    program = bench.program
    bench.force(program.hold_now(bench.offset))
    bench.force(program.step(bench.offset))
    bench.run(500)
    assert bench.busy
    assert bench.pin != program.ready
    bench.force(program.give_up(bench.offset))
    bench.run(10)
    assert not bench.busy
    assert bench.pin == program.ready
