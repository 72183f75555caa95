"""The conductor decides what the clock line does next: who may move it, when it rests, and what is told about it.

It holds no pin and no time of its own. Commands, presses and the loop's passes come in as calls; edges are asked of the
clock engine; what happened goes out through the outbox in the order in which it happened.
"""

from __future__ import annotations

from handtick_wire import reasons
from handtick_wire.messages import FLAG_IN_RESET, MOST_TICKS, write_rate

from . import transitions
from .clock_limits import ClockLimits
from .job import ENDLESS, NOBODY, Job
from .soft_clock import HELD as EDGE_MADE

ALL, LAST, AUTO = "all", "last", "auto"

_MOST_QUEUED_PRESSES = 16


class Conductor:
    """Runs the transition table.

    Args:
        clock: the clock engine.
        outbox: takes reports (``say``), answers (``answer``) and marks what breaks the row of ticks (``say_reset``).
        reset_line: an object with a ``value``; True asserts the machine's reset.
        halt_line: the machine's ``HaltLine``.
        step_us: length of each phase of a tick made by hand or by ``step``, in microseconds.
        rate_mhz: the rate asked for at the start, in thousandths of a hertz.
        top_rate_mhz: the highest rate taken, likewise.
        reset_ticks: clean ticks made while reset is asserted.
        duty_percent: share of the period the line is high when run at a rate, 1 to 99.

    Attributes:
        mode: one of ``transitions.MODES``.
        reset_number: resets since the start of the board.
        asked: what the clock is doing or last did, such as ``step:3``.
        limits: what the machine's clock may not do.
        samples: of which ticks at a rate samples are wanted: ``ALL``, the ``LAST`` ones, or as the engine sees fit.
    """

    def __init__(
        self,
        clock,
        outbox,
        reset_line,
        halt_line,
        step_us: int = 1000,
        rate_mhz: int = 10_000,
        top_rate_mhz: int = 1_000_000,
        reset_ticks: int = 2,
        duty_percent: int = 50,
    ) -> None:
        self.mode = transitions.REST
        self.reset_number = 0
        self.asked = "nothing"
        self.rate_mhz = rate_mhz
        self.top_rate_mhz = top_rate_mhz
        self.samples = AUTO
        self.limits = ClockLimits()
        self.clock = clock
        self._outbox = outbox
        self._reset_line = reset_line
        self._halt_line = halt_line
        self._step_us = step_us
        self._step = clock.phase(step_us)
        self._reset_ticks = reset_ticks
        self._duty_percent = duty_percent
        self._job: Job | None = None
        self._press_job = Job("press", 1, self._step, self._step, by_hand=True, steady=True)
        self._press_breaks = ""
        self._next: Job | None = None
        self._presses = 0
        self._halting_ids: list[int] = []
        self._half_ids: list[int] = []
        self._reset_id = NOBODY
        self._releasing = False
        self._ending_why = reasons.HALTED
        # The edge count when the first half of a tick was asked for.
        self._half_edges = 0

    @property
    def high_ns(self) -> int:
        """The high phase that the clock engine makes at the present rate, in nanoseconds, rounded down."""
        high, _ = self._phases(self.rate_mhz)
        return high * 1_000_000_000 // self.clock.unit_hz

    # What may be asked. Each is answered through the outbox, at once or when it is done.

    def step(self, count: int, command_id: int = NOBODY) -> None:
        """Asks for ``count`` ticks of fixed width."""
        if not self._room_for_ticks(count, command_id) or not self._within_limits(self._step, self._step, command_id):
            return
        job = Job("step:%d" % count, count, self._step, self._step, command_id, steady=True)
        self._event("move", job)

    def press(self) -> None:
        """One press of the tick button."""
        if self._press_breaks:
            self._refuse_press(None)
            return
        if self.mode == transitions.REST:
            # The edge first, where it is ready; then what there is to note and to tell about it.
            self._event("press", self.clock.fire())
            return
        by_hand = self.mode == transitions.MOVING and self._job is not None and self._job.by_hand
        self._event("press by hand" if by_hand else "press", False)

    def arm(self) -> None:
        """At rest, has the clock make ready the tick of the next press."""
        if not self._press_breaks:
            self.clock.arm(self._step, self._step)

    def run(self, rate_mhz: int, command_id: int = NOBODY) -> None:
        """Asks for ticks at a rate, without end."""
        endless = self.mode == transitions.MOVING and self._job is not None and self._job.count == ENDLESS
        # A new rate makes the line rest for a moment.
        if not self._rate_fits(rate_mhz, command_id, rests=endless) or self._stopped_by_line(command_id):
            return
        if endless:
            self._event("run again", (rate_mhz, command_id))
            return
        self._event("move", self._job_at("run:" + write_rate(rate_mhz), ENDLESS, rate_mhz, command_id))

    def burst(self, count: int, rate_mhz: int, command_id: int = NOBODY) -> None:
        """Asks for ``count`` ticks at a rate."""
        if not self._rate_fits(rate_mhz, command_id) or not self._room_for_ticks(count, command_id):
            return
        if self._stopped_by_line(command_id):
            return
        self._event("move", self._job_at("burst:%d" % count, count, rate_mhz, command_id))

    def advance_to(self, tick: int, rate_mhz: int, command_id: int = NOBODY) -> None:
        """Asks for ticks at a rate until the tick number is ``tick``."""
        if not self._rate_fits(rate_mhz, command_id):
            return
        if self.mode not in (transitions.REST, transitions.HELD):
            self._event("to", command_id)
            return
        count = tick - self.clock.tick - self.clock.owed
        if count < 0:
            self._refuse(command_id, reasons.BEHIND)
        elif count == 0 and self.clock.owed:
            # It is the tick that is held, and ends now.
            self.halt(command_id)
        elif count == 0:
            self._outbox.say("notice", what=reasons.ALREADY_THERE, count=tick, us=0)
            self._event("halt", reasons.HALTED)
            self._done(command_id)
        elif self._room_for_ticks(count, command_id) and not self._stopped_by_line(command_id):
            self._event("to", self._job_at("to:%d" % tick, count, rate_mhz, command_id))

    def half(self, command_id: int = NOBODY) -> None:
        """Asks for the next edge alone."""
        if not self._within_limits(self._step, self._step, command_id):
            return
        if self.limits.may_rest(not self.clock.rest_high):
            self._event("half", command_id)
        else:
            self._refuse(command_id, reasons.MAY_NOT_STOP)

    def change_rate(self, rate_mhz: int, command_id: int = NOBODY) -> None:
        """Sets the rate, of the run under way and of runs to come."""
        if self._rate_fits(rate_mhz, command_id, rests=not self.clock.resting):
            self._event("rate", (rate_mhz, command_id))

    def set_duty(self, percent: int, command_id: int = NOBODY) -> None:
        """Sets the high share of a period, 1 to 99 percent, of runs to come."""
        if 1 <= percent <= 99:
            self._duty_percent = percent
            self._done(command_id)
        else:
            self._refuse(command_id, reasons.BAD_FIELDS)

    def sample(self, which: str, command_id: int = NOBODY) -> None:
        """Says of which ticks of runs to come samples are wanted: ``ALL``, ``LAST`` or ``AUTO``."""
        self.samples = which
        self._done(command_id)

    def limit(self, limits: ClockLimits, command_id: int = NOBODY) -> None:
        """Says what the machine's clock may not do."""
        self.limits = limits
        self._press_breaks = self._breaks(self._step, self._step)
        self.clock.trigger_tick = 0
        self._done(command_id)

    def ignore_halt(self, count: int, command_id: int = NOBODY) -> None:
        """Goes past the halt line for the next ``count`` ticks."""
        self.clock.ignores_until = self.clock.edges + count
        self._done(command_id)

    def trigger_at(self, tick: int, command_id: int = NOBODY) -> None:
        """Says for which tick of what is asked for next the trigger stands high; 0 for none. At rest only."""
        if not self.clock.resting:
            self._refuse(command_id, reasons.RUNNING)
        elif tick and not self.limits.may_rest(self.clock.rest_high):
            # The line rests before and after that tick.
            self._refuse(command_id, reasons.MAY_NOT_STOP)
        elif tick and self.clock.trigger is None:
            self._refuse(command_id, reasons.NO_TRIGGER)
        else:
            self.clock.trigger_tick = tick
            self._done(command_id)

    def halt(self, command_id: int = NOBODY, why: str = reasons.HALTED) -> None:
        """Comes to rest at the next tick boundary; answered once at rest."""
        if command_id != NOBODY:
            self._halting_ids.append(command_id)
        self._event("halt", why)
        self._answer_halts()

    def run_or_halt(self) -> None:
        """One press of the run/halt button: a run at the present rate begins at rest, and anything else ends."""
        if self.mode in (transitions.REST, transitions.HELD):
            self.run(self.rate_mhz)
        else:
            self.halt(why=reasons.BUTTON)

    def forget_wishes(self, duty_percent: int) -> None:
        """Whoever asked for something special is gone: what is asked for next is as the settings have it."""
        self._duty_percent = duty_percent
        self.samples = AUTO
        clock = self.clock
        clock.stop_rule = None
        clock.ignores_until = 0
        if clock.resting:
            clock.trigger_tick = 0

    def stop_when(self, rule, command_id: int = NOBODY) -> None:
        """Sets what stops the clock at a tick boundary besides all else: a ``StopRule``, or None. At rest only."""
        if not self.clock.resting:
            self._refuse(command_id, reasons.RUNNING)
            return
        self.clock.stop_rule = rule
        self._done(command_id)

    def reset(self, command_id: int = NOBODY) -> None:
        """Resets the machine: line asserted at once, clean ticks under it, released at rest, tick number zeroed."""
        self._event("reset", command_id)

    def shortest_phase(self) -> int:
        """The shorter phase of the ticks that are being made, in units of the clock; 0 where none are."""
        job = self._job
        return 0 if job is None else min(job.high, job.low)

    # The loop's passes.

    def poll(self, now_us: int) -> None:
        """Lets the clock make the edge that is due and acts on what came of it."""
        if self.mode == transitions.WAITING and self._outbox.has_room:
            if self._line_forbids:
                self._event("halt", reasons.HALT_LINE)
            else:
                self._event("room", None)
        elif self._releasing and self.clock.rested:
            self._event("rested", None)
        why = self.clock.poll(now_us)
        if why is None:
            return
        if why == EDGE_MADE:
            self._event("edge made", None)
        elif why == reasons.LOG_FULL:
            self._event("no room", why)
        else:
            self._event("at rest", why)

    # The table at work.

    def _event(self, event: str, detail: object) -> None:
        action, mode = transitions.TRANSITIONS[self.mode, event]
        self.mode = mode
        getattr(self, "_" + action)(detail)

    def _begin(self, job: Job, begun: bool = False) -> None:
        """Begins a job; ``begun`` where the clock has done so already."""
        self._answer_halves(reasons.RUNNING)
        clock = self.clock
        self._job = job
        self.asked = job.asked
        self.rate_mhz = job.rate_mhz or self.rate_mhz
        job.start(clock.edges + clock.owed)
        if not begun:
            clock.begin(job.count, job.high, job.low, job.traced)
        self._say_state(reasons.ASKED)
        if job.count == ENDLESS:
            self._done(job.command_id)

    def _press(self, fired: bool) -> None:
        self._begin(self._press_job, fired)

    def _queue(self, job: Job) -> None:
        if self._next is not None:
            self._refuse(job.command_id, reasons.BUSY)
        else:
            self._next = job

    def _queue_press(self, detail: object) -> None:
        if self._presses < _MOST_QUEUED_PRESSES:
            self._presses += 1
        else:
            self._refuse_press(detail)

    def _begin_half(self, command_id: int) -> None:
        self._half_ids.append(command_id)
        self._half_edges = self.clock.edges
        self.asked = "half"
        self.clock.begin_half(self._step, self._step)
        self._say_state(reasons.ASKED)

    def _report_half(self, detail: object) -> None:
        self._outbox.say_half("lead", self.clock)
        self._answer_halves(reasons.COUNT)

    def _finish_half(self, command_id: int) -> None:
        self._half_ids.append(command_id)
        self.clock.finish_half()

    def _change_rate(self, detail: tuple[int, int]) -> None:
        rate_mhz, command_id = detail
        self.rate_mhz = rate_mhz
        job = self._job
        if job is not None and not job.steady:
            job.high, job.low = self._phases(rate_mhz)
            job.traced = self._traces(job.remaining(self.clock.edges), rate_mhz)
            if self.mode in (transitions.MOVING, transitions.ENDING):
                self.clock.wants_samples = job.traced
                self.clock.retime(job.high, job.low)
            if job.count == ENDLESS:
                self.asked = job.asked = "run:" + write_rate(rate_mhz)
            self._say_state(reasons.RATE)
        self._done(command_id)

    def _end(self, why: str) -> None:
        self._drop_queued(why)
        self._ending_why = why
        self._answer_halves(why)
        self.clock.end()

    def _end_at_once(self, why: str) -> None:
        """What ends anyway is not to begin a tick that was asked for but not begun yet."""
        self._drop_queued(why)
        self.clock.end()

    def _give_up(self, why: str) -> None:
        self._close_job(why)

    def _give_up_half(self, why: str) -> None:
        self._answer_halves(why)
        self._say_state(why)

    def _stay(self, detail: object) -> None:
        """Nothing to do."""

    def _wait(self, why: str) -> None:
        self._say_state(why)

    def _resume(self, detail: object) -> None:
        job = self._job
        assert job is not None
        self.clock.begin(job.remaining(self.clock.edges), job.high, job.low, job.traced)
        self._say_state(reasons.ROOM)

    def _settle(self, why: str) -> None:
        """At rest: close what was asked, answer, and go on with what was asked for afterwards."""
        if why == reasons.HALTED:
            why = self._ending_why
        self._ending_why = reasons.HALTED
        # Both edges of a tick made by halves, or neither, where both were asked for before the first was made.
        made = self.clock.edges != self._half_edges
        if self._half_ids and made:
            self._outbox.say_half("trail", self.clock)
        self._close_job(why)
        self._answer_halves(reasons.COUNT if made else why)
        self._answer_halts()
        if self._next is not None:
            job, self._next = self._next, None
            if job.steady or not self._stopped_by_line(job.command_id):
                self._event("move", job)
        elif self._presses:
            self._presses -= 1
            self._event("press", False)

    def _begin_reset(self, command_id: int) -> None:
        self._reset_line.value = True
        self._reset_id = command_id
        self._drop_queued(reasons.RESET)
        self._answer_halves(reasons.RESET)
        if self.clock.resting:
            self._tick_under_reset()
        else:
            self.clock.end()

    def _go_on_with_reset(self, why: str) -> None:
        if self.clock.flags & FLAG_IN_RESET:
            self._releasing = True
        else:
            # That was the tick in hand when reset was asked for.
            self._tick_under_reset()

    def _tick_under_reset(self) -> None:
        if self._job is not None:
            self._close_job(reasons.RESET)
        self.asked = "reset"
        self.clock.flags = FLAG_IN_RESET
        self.clock.obeys_halt = False
        self._outbox.never_holds = True
        # The line was asserted just now: no edge until the machine can have seen it.
        self.clock.stay_at_rest(self._step_us)
        self.clock.begin(self._reset_ticks, self._step, self._step)
        self._say_state(reasons.ASKED)

    def _release_reset(self, detail: object) -> None:
        self._releasing = False
        self.clock.flags = 0
        self.clock.obeys_halt = True
        self._outbox.never_holds = False
        self._reset_line.value = False
        self._say_state(reasons.COUNT)
        last_tick = self.clock.tick
        self.clock.zero_tick()
        self.reset_number += 1
        self._outbox.say_reset(self.reset_number, last_tick, self.clock.edges)
        if self._halt_line.asserted:
            self._outbox.say("notice", what=reasons.HALT_BEFORE_FIRST, count=0, us=0)
        self._done(self._reset_id)
        self._reset_id = NOBODY
        self._answer_halts()

    def _refuse_running(self, detail: object) -> None:
        self._refuse(_id_of(detail), reasons.RUNNING)

    def _refuse_full(self, detail: object) -> None:
        self._refuse(_id_of(detail), reasons.LOG_FULL)

    def _refuse_in_reset(self, detail: object) -> None:
        self._refuse(_id_of(detail), reasons.IN_RESET)

    def _refuse_press(self, detail: object) -> None:
        self._outbox.say("notice", what=reasons.PRESS_REFUSED, count=1, us=0)

    # Small change.

    def _close_job(self, why: str) -> None:
        job = self._job
        self._say_state(why)
        self._job = None
        self.clock.trigger_tick = 0
        if job is None or job.count == ENDLESS:
            return
        if why == reasons.COUNT:
            self._done(job.command_id)
        else:
            self._fail(job.command_id, why)

    def _answer_halves(self, why: str) -> None:
        while self._half_ids:
            command_id = self._half_ids.pop(0)
            if why == reasons.COUNT:
                self._done(command_id)
            else:
                self._fail(command_id, why)

    def _drop_queued(self, why: str) -> None:
        """What waits for the tick in hand is not made: whoever stops the clock now means all that was asked before."""
        self._presses = 0
        if self._next is not None:
            self._fail(self._next.command_id, why)
            self._next = None

    def _answer_halts(self) -> None:
        if self.mode != transitions.REST:
            return
        while self._halting_ids:
            self._done(self._halting_ids.pop(0))

    def _say_state(self, why: str) -> None:
        clock, job = self.clock, self._job
        rate = "0" if job is None or job.steady else write_rate(clock.rate_of(job.high, job.low))
        self._outbox.say_state(self.mode, why, self.asked, clock.tick, clock.edges, rate)

    def _done(self, command_id: int) -> None:
        if command_id != NOBODY:
            self._outbox.answer(command_id, "done", tick=self.clock.tick, edges=self.clock.edges)

    def _refuse(self, command_id: int, why: str) -> None:
        if command_id != NOBODY:
            self._outbox.answer(command_id, "refused", why=why)

    def _fail(self, command_id: int, why: str) -> None:
        if command_id != NOBODY:
            self._outbox.answer(command_id, "failed", why=why, tick=self.clock.tick, edges=self.clock.edges)

    def _room_for_ticks(self, count: int, command_id: int) -> bool:
        if count < 1:
            self._refuse(command_id, reasons.BAD_FIELDS)
            return False
        if self.clock.tick + count > MOST_TICKS:
            self._refuse(command_id, reasons.OUT_OF_TICKS)
            return False
        return True

    def _rate_fits(self, rate_mhz: int, command_id: int, rests: bool = True) -> bool:
        if rate_mhz > self.top_rate_mhz:
            self._refuse(command_id, reasons.TOO_FAST)
            return False
        high, low = self._phases(rate_mhz)
        return self._within_limits(high, low, command_id, rests)

    def _within_limits(self, high: int, low: int, command_id: int, rests: bool = True) -> bool:
        why = self._breaks(high, low, rests)
        if why:
            self._refuse(command_id, why)
        return not why

    def _breaks(self, high: int, low: int, rests: bool = True) -> str:
        clock = self.clock
        return self.limits.breaks(high, low, clock.unit_hz // 1_000_000, clock.rest_high, rests)

    def _stopped_by_line(self, command_id: int) -> bool:
        """Whether a run must not begin because the machine holds its halt line; steps and presses go past it."""
        if self.mode in (transitions.REST, transitions.HELD) and self._line_forbids:
            self._refuse(command_id, reasons.HALT_LINE)
            return True
        return False

    @property
    def _line_forbids(self) -> bool:
        return not self.clock.goes_past_halt and self._halt_line.now

    def _job_at(self, asked: str, count: int, rate_mhz: int, command_id: int) -> Job:
        high, low = self._phases(rate_mhz)
        traced = self._traces(count, rate_mhz)
        return Job(asked, count, high, low, command_id, traced=traced, rate_mhz=rate_mhz)

    def _traces(self, count: int, rate_mhz: int) -> bool:
        """Whether samples are to be taken of all of so many ticks at a rate."""
        traced = self.samples == ALL or (self.samples == AUTO and self.clock.traces(count, rate_mhz))
        # Between two bursts with samples the clock stops for a moment.
        return traced and self.limits.may_rest(self.clock.rest_high)

    def _phases(self, rate_mhz: int) -> tuple[int, int]:
        return self.clock.phases(rate_mhz, self._duty_percent)


def _id_of(detail: object) -> int:
    """The command id in whatever an event carries."""
    if isinstance(detail, Job):
        return detail.command_id
    return detail if isinstance(detail, int) else NOBODY
