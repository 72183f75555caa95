"""Steps of a machine whose clock may not stop: the clock runs on, and the ready line lets it go a cycle at a time."""

from __future__ import annotations

from handtick_wire import reasons

from . import transitions
from .job import NOBODY

#: The shortest phase of the clock with which ``ready_program.py`` keeps up, in its cycles; 200 ns at 125 MHz. It stands
#: here so that a board without a ready line needs no memory for the program.
LEAST_PHASE = 25

# What the line is at.
_GONE, _HOLDING, _HELD, _STEPPING, _LETTING_GO = "gone", "holding", "held", "stepping", "letting go"

_MOST_QUEUED_PRESSES = 16


class ReadySteps:
    """Holds the machine and lets it go.

    Args:
        conductor: knows whether the clock runs, and how fast.
        outbox: takes reports and answers.
        make_line: makes the ready line, given whether high is ready, the probe of the line that says when the machine
            ignores it (None for none) and whether it does at high; see ``PioReady``. It raises RuntimeError or
            ValueError where what it takes is in use. None where there can be no such line.
        least_phase: the shortest phase of the clock that the line keeps up with, in units of the clock.
    """

    def __init__(self, conductor, outbox, make_line=None, least_phase: int = 0) -> None:
        self._conductor = conductor
        self._outbox = outbox
        self._make_line = make_line
        self._least_phase = least_phase
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
            self._rewire(wiring, command_id)

    def hold(self, command_id: int) -> None:
        """Holds a machine whose clock is at rest, so that the clock can begin to run without it."""
        if self._wiring is None:
            self._refuse(command_id, self._no_line())
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
        self._left += count
        self._command_id = command_id
        if self._at == _GONE:
            self._number = 0
            self._at = _HOLDING
            self._line.hold()

    def press(self) -> None:
        """One press of the tick button: lets the machine, which is held, be ready for one cycle."""
        if self._left >= _MOST_QUEUED_PRESSES or self._hindrance(1):
            self._outbox.say("notice", what=reasons.PRESS_REFUSED, count=1, us=0)
        else:
            self._left += 1

    def let_go(self, command_id: int) -> None:
        """Makes the machine ready for good."""
        if self._wiring is None:
            self._refuse(command_id, self._no_line())
        elif self._command_id != NOBODY:
            self._refuse(command_id, reasons.BUSY)
        elif self._conductor.clock.resting:
            self._release()
            self._done(command_id)
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
        mode = self._conductor.mode
        if mode != transitions.MOVING and mode != transitions.ENDING:
            if not self._waits_for_clock:
                # Nobody is held whose clock stands still.
                self._release()
                self._answer("failed", why=reasons.NOT_RUNNING)
            return
        self._waits_for_clock = False
        if self._at == _HELD:
            self._begin()
        elif not self._line.busy:
            self._go_on()

    def _rewire(self, wiring: tuple[bool, int | None, bool], command_id: int) -> None:
        if self._wiring is not None:
            self._release()
            self._line.close()
            self._wiring = None
        try:
            self._line = self._make_line(*wiring)
        except (RuntimeError, ValueError):
            self._refuse(command_id, reasons.READY_IN_USE)
            return
        self._wiring = wiring
        self._done(command_id)

    def _release(self) -> None:
        """Makes the machine ready at once, whatever was under way; for a clock at rest."""
        self._line.give_up()
        self._at = _GONE
        self._left = 0
        self._going = self._waits_for_clock = False

    def _begin(self) -> None:
        """The machine is held: begins what is to be done next."""
        if self._left:
            # What becomes of it must not be dropped for want of room.
            if self._outbox.takes_reports:
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
            if self._left:
                self._left -= 1
        self._at = _HELD
        if not (self._left or self._going):
            self._answer("done")

    def _hindrance(self, count: int) -> str:
        """Why the machine can't be stepped now; empty where it can."""
        if count < 1:
            return reasons.BAD_FIELDS
        if self._wiring is None:
            return self._no_line()
        if self._command_id != NOBODY or self._going:
            return reasons.BUSY
        if self._conductor.mode != transitions.MOVING:
            return reasons.NOT_RUNNING
        return reasons.TOO_FAST_FOR_READY if self._conductor.shortest_phase() < self._least_phase else ""

    def _no_line(self) -> str:
        """Why there is no line to step by."""
        return reasons.NO_READY if self._make_line is None else reasons.READY_NOT_TOLD

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
