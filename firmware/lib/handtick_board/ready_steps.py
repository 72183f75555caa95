"""Steps of a machine whose clock may not stop: the clock runs on, and the ready line lets it go a cycle at a time."""

from __future__ import annotations

from handtick_wire import reasons

from . import transitions
from .job import NOBODY

#: The shortest phase of the clock with which the line keeps up: 25 cycles at 125 MHz, and never fewer than it takes.
LEAST_PHASE_NS = 200

# What the line is at.
_GONE, _HOLDING, _HELD, _STEPPING, _LETTING_GO = "gone", "holding", "held", "stepping", "letting go"


class ReadySteps:
    """Holds the machine and lets it go.

    Args:
        conductor: knows whether the clock runs, and how fast.
        outbox: takes reports and answers.
        make_line: makes the ready line, given whether high is ready, the probe of the line that says when the machine
            ignores it (None for none) and whether it does at high; see ``PioReady``. None where there can be none.
        least_phase_ns: the shortest phase of the clock that the line keeps up with.
    """

    def __init__(self, conductor, outbox, make_line=None, least_phase_ns: int = 0) -> None:
        self._conductor = conductor
        self._outbox = outbox
        self._make_line = make_line
        self._least_phase_ns = least_phase_ns
        self._line = _none_yet()
        self._wiring: tuple[bool, int | None, bool] | None = None
        self._at = _GONE
        self._left = 0
        self._going = False
        # Held while the clock was at rest, so that it begins to run with the machine held.
        self._waits_for_clock = False
        self._number = 0
        self._early = 0
        self._command_id = NOBODY

    @property
    def holds(self) -> bool:
        """Whether the machine is held, or about to be."""
        return self._at != _GONE

    def wire(self, ready_high: bool, probe: int | None, ignored_high: bool, command_id: int) -> None:
        """Says what the ready line is like."""
        wiring = (ready_high, probe, ignored_high)
        if self._make_line is None:
            self._refuse(command_id, reasons.NO_READY)
        elif wiring == self._wiring:
            self._done(command_id)
        elif not self._conductor.clock.resting:
            self._refuse(command_id, reasons.RUNNING)
        else:
            if self._wiring is not None:
                self._line.close()
            self._line = self._make_line(ready_high, probe, ignored_high)
            self._wiring = wiring
            self._done(command_id)

    def hold(self, command_id: int) -> None:
        """Holds a machine whose clock is at rest, so that the clock can begin to run without it."""
        if self._wiring is None:
            self._refuse(command_id, reasons.NO_READY)
        elif not self._conductor.clock.resting:
            self._refuse(command_id, reasons.RUNNING)
        else:
            self._line.hold_now()
            self._at = _HELD
            self._waits_for_clock = True
            self._number = 0
            self._done(command_id)

    def step(self, count: int, command_id: int) -> None:
        """Lets the machine be ready for ``count`` cycles, one at a time."""
        why = self._hindrance(count)
        if why:
            self._refuse(command_id, why)
            return
        self._left, self._command_id = count, command_id
        if self._at == _GONE:
            self._number = 0
            self._at = _HOLDING
            self._line.hold()

    def let_go(self, command_id: int) -> None:
        """Makes the machine ready for good."""
        if self._wiring is None:
            self._refuse(command_id, reasons.NO_READY)
        elif self._command_id != NOBODY:
            self._refuse(command_id, reasons.BUSY)
        elif self._at == _GONE:
            self._done(command_id)
        else:
            self._command_id = command_id
            self._going = True

    def disconnected(self) -> None:
        """Nobody waits for what is left of the steps any more; a machine that is held stays so while its clock runs."""
        self._left = 0
        self._command_id = NOBODY
        self._waits_for_clock = False

    def poll(self) -> None:
        """Goes on as soon as the line has met the edge it waits for."""
        if self._at == _GONE:
            return
        if self._conductor.mode not in (transitions.MOVING, transitions.ENDING):
            if self._waits_for_clock:
                return
            # Nobody is held whose clock stands still.
            self._line.give_up()
            self._at = _GONE
            self._left = 0
            self._going = False
            self._answer("failed", why=reasons.NOT_RUNNING)
            return
        self._waits_for_clock = False
        if self._at == _HELD:
            self._begin()
        elif not self._line.busy:
            self._go_on()

    def _begin(self) -> None:
        """The machine is held: begins what is to be done next."""
        if self._left:
            if not self._outbox.crowded:
                self._early = self._conductor.clock.read_probes()
                self._at = _STEPPING
                self._line.step()
        elif self._going:
            self._at = _LETTING_GO
            self._line.let_go()

    def _go_on(self) -> None:
        """The line has met its edge."""
        if self._at == _LETTING_GO:
            self._at = _GONE
            self._going = False
            self._answer("done")
            return
        passed = self._line.passed()
        if self._at == _STEPPING:
            self._number += 1
            self._outbox.say_cycle(self._number, self._conductor.clock, self._early, passed)
            self._left -= self._left > 0
        self._at = _HELD
        if not (self._left or self._going):
            self._answer("done")

    def _hindrance(self, count: int) -> str:
        """Why the machine can't be stepped now; empty where it can."""
        if count < 1:
            return reasons.BAD_FIELDS
        if self._wiring is None:
            return reasons.NO_READY
        if self._command_id != NOBODY or self._going:
            return reasons.BUSY
        if self._conductor.mode != transitions.MOVING:
            return reasons.NOT_RUNNING
        shortest = self._conductor.shortest_phase_ns()
        return reasons.TOO_FAST_FOR_READY if shortest < self._least_phase_ns else ""

    def _answer(self, kind: str, **fields) -> None:
        command_id, self._command_id = self._command_id, NOBODY
        if command_id != NOBODY:
            clock = self._conductor.clock
            self._outbox.answer(command_id, kind, tick=clock.tick, edges=clock.edges, **fields)

    def _done(self, command_id: int) -> None:
        clock = self._conductor.clock
        self._outbox.answer(command_id, "done", tick=clock.tick, edges=clock.edges)

    def _refuse(self, command_id: int, why: str) -> None:
        self._outbox.answer(command_id, "refused", why=why)


def _none_yet():
    """The line, until somebody says what it is like."""
    return
