"""The software clock engine: the one owner of the clock line on boards that time it in Python.

A tick leaves the rest level for one phase and comes back to it for the other. Every phase lasts at least as long as
was asked when it ended: a phase is measured from after the pin was written to before it is written again, and lateness
is never made up for by a shorter phase. A new rate takes hold in the phase under way: it ends as soon as it is at
least as long as the new rate asks. The line comes to rest at a tick boundary and nowhere else.
"""

from __future__ import annotations

from handtick_wire import reasons
from handtick_wire.messages import FLAG_DISAGREED, FLAG_HALT_IGNORED

from .us_time import elapsed_us

# Where in a tick the line stands. LEAD: away from the rest level; TRAIL: back at it, the phase not over yet.
_REST = 0
_LEAD = 1
_TRAIL = 2

HELD = "held"

#: How long the trigger stands high at least before the edge of its tick, in microseconds.
TRIGGER_LEAD_US = 100


class SoftwareClock:
    """Makes ticks on one line.

    Args:
        line: an object with a ``value`` (True is high at the machine), already at the rest level.
        probes: an object whose ``read()`` gives all probes as one number and whose ``disagreed`` tells whether two
            reads of that sample differed.
        halt: an object whose ``now`` is the machine's halt line.
        sink: an object with ``push(early, late, time_us, flags)``, told of every complete tick, and ``holds_clock``,
            true while no tick may begin for want of room.
        now_us: gives the board time.
        rest_high: whether the line rests high.
        active_falling: whether the machine is clocked by the falling edge.
        grain_us: resolution of ``now_us``; every phase is made that much longer than asked, to be no shorter.

    Attributes:
        edges: active edges since the start; never zeroed.
        tick: active edges since ``zero_tick``.
        flags: put into every record until changed.
        obeys_halt: whether the halt line is looked at.
        trigger: an output with a ``value`` that stands high for the tick ``trigger_tick``, and from where a stop rule
            holds to the next tick; None for none.
        trigger_tick: that tick's number; 0 for none.
        ignores_until: the edge count up to which it is not obeyed.
        wants_samples: whether samples are wanted of all ticks, or of the last ones only; this engine takes all.
        rest_high: whether the line rests high.
    """

    name = "software"
    #: Phases are asked for in so many units a second: in microseconds.
    unit_hz = 1_000_000
    #: The highest rate it takes, in thousandths of a hertz.
    top_rate_mhz = 1_000_000

    def __init__(
        self,
        line,
        probes,
        halt,
        sink,
        now_us,
        rest_high: bool = False,
        active_falling: bool = False,
        grain_us: int = 0,
    ) -> None:
        self.edges = 0
        self.tick = 0
        self.flags = 0
        self.obeys_halt = True
        self.rest_high = rest_high
        self.ignores_until = 0
        self.trigger = None
        self.trigger_tick = 0
        self.wants_samples = True
        self._line = line
        self._probes = probes
        self._halt = halt
        self._sink = sink
        self._now_us = now_us
        self._lead_is_active = rest_high == active_falling
        self._grain_us = grain_us
        self._phase = _REST
        self._cooling = False
        self._held = False
        self._ending = False
        # Whether a tick of what is asked for has begun; whether the next one waits for the trigger to have stood.
        self._going = False
        self._paused = False
        #: Judged at every tick boundary outside of reset; None for none.
        self.stop_rule = None
        self._matched = False
        # The edge count at which a rule on early samples was judged last: once a tick.
        self._judged_at = -1
        self._count = 0
        self._lead_us = 0
        self._trail_us = 0
        self._cool_us = 0
        self._edge_us = 0
        self._active_us = 0
        self._early = 0
        self._tick_flags = 0

    @property
    def resting(self) -> bool:
        """Whether the line is at its rest level, with no tick asked for."""
        return self._phase == _REST and self._count == 0

    @property
    def goes_past_halt(self) -> bool:
        """Whether the next tick is made whatever the halt line says."""
        return not self.obeys_halt or self.edges < self.ignores_until

    @property
    def held(self) -> bool:
        """Whether the line waits away from its rest level, half a tick done."""
        return self._held

    @property
    def owed(self) -> int:
        """Active edges still to come of a tick that has begun: 1 where it is clocked by its trailing edge."""
        return 1 if self._phase == _LEAD and not self._lead_is_active else 0

    @property
    def rested(self) -> bool:
        """Whether the line is at rest and has been for as long as the phase after the last tick was to last."""
        return self._phase == _REST and self._count == 0 and not self._cooling

    @property
    def needs_nobody(self) -> bool:
        """Whether ticks are made, or waited with, without anybody who looks after the line."""
        return False

    def edges_at(self, now_us: int) -> int:
        """The edge count at a time, as far as it can be known while ticks are made; exact at rest."""
        return self.edges

    @property
    def early(self) -> int:
        """The early sample of the latest tick."""
        return self._early

    def phases(self, rate_mhz: int, duty_percent: int) -> tuple[int, int]:
        """High and low phase for a rate in thousandths of a hertz, in units: together never less than its period."""
        least_high, least_low = self.least_phases()
        # The top rate is told rounded down; who asks for it means the shortest period.
        top = rate_mhz >= self.unit_hz * 1000 // (least_high + least_low)
        period = least_high + least_low if top else -(-self.unit_hz * 1000 // rate_mhz)
        high = max(least_high, min(period - least_low, -(-period * duty_percent // 100)))
        return high, max(least_low, period - high)

    def phase(self, us: int) -> int:
        """So many microseconds in units."""
        return us * (self.unit_hz // 1_000_000)

    def least_phases(self) -> tuple[int, int]:
        """The shortest high and low phase it can be asked for, in units."""
        return 1, 1

    def rate_of(self, high: int, low: int) -> int:
        """The rate that phases of so many units make, in thousandths of a hertz, rounded down."""
        return self.unit_hz * 1000 // (high + low)

    def traces(self, count: int, rate_mhz: int) -> bool:
        """Whether every one of so many ticks at such a rate has its samples taken where nobody says; here always."""
        return True

    def begin(self, count: int, high: int, low: int, traced: bool = True) -> None:
        """Asks for ticks; a held tick is ended first and is not one of them.

        Args:
            count: how many, or ``job.ENDLESS``.
            high, low: the least lengths of the phases, in units.
            traced: whether samples are wanted of all of them, or of the last ones only.
        """
        self._count = count
        self._ending = False
        self._held = False
        self._matched = False
        self._judged_at = -1
        self._going = self._paused = False
        self.retime(high, low)

    def begin_half(self, high: int, low: int) -> None:
        """Asks for one edge, after which the line waits; ``begin`` or ``end`` or ``finish_half`` goes on from there."""
        self.begin(1, high, low)
        self._held = True

    def arm(self, high: int, low: int) -> None:
        """At rest, makes one tick ready that ``fire`` then makes at once; where that can't be, does nothing.

        ``begin`` forgets it. Whoever changes what decides whether a tick may be made (the stop rule, the trigger's
        tick, the halt line to be obeyed or not) has to ``disarm`` first.
        """

    def disarm(self) -> None:
        """Forgets the tick that is ready, if one is."""

    def fire(self) -> bool:
        """Makes the tick that is ready, as ``begin`` would; returns whether one was."""
        return False

    def finish_half(self) -> None:
        """Ends a held tick; where its first edge was still to come, the whole tick is made."""
        self._held = False

    def read_probes(self) -> int:
        """All probes now, as one number."""
        value: int = self._probes.read()
        return value

    def retime(self, high: int, low: int) -> None:
        """Sets how long the high and the low phase last at least, in units, from the phase under way on."""
        self._lead_us = low if self.rest_high else high
        self._trail_us = high if self.rest_high else low

    def stay_at_rest(self, us: int) -> None:
        """Keeps the resting line at rest for ``us`` microseconds from now at least."""
        if not self._cooling or elapsed_us(self._now_us(), self._edge_us) + us > self._cool_us:
            self._cooling = True
            self._cool_us = us
            self._edge_us = self._now_us()

    def end(self) -> None:
        """Comes to rest once the tick in hand is whole."""
        self._ending = True
        self._held = False

    def zero_tick(self) -> None:
        """The next tick is tick 1."""
        self.tick = 0

    def poll(self, now_us: int) -> str | None:
        """Makes the edge that is due, if one is.

        Returns:
            None while there is nothing to tell; why the line came to rest, when it does; ``HELD`` when a half tick
            has made its edge.
        """
        if self._phase == _LEAD:
            if self._held or elapsed_us(now_us, self._edge_us) < self._lead_us + self._grain_us:
                return None
            self._trail()
            if self._lead_is_active:
                # The tick is complete for the machine; what is left of it keeps the next one away.
                return self._rest_if_over()
            return None
        if self._phase == _TRAIL:
            if elapsed_us(now_us, self._edge_us) < self._trail_us + self._grain_us:
                return self._rest_if_over() if self._lead_is_active else None
            return self._boundary()
        if self._cooling:
            if elapsed_us(now_us, self._edge_us) < self._cool_us + self._grain_us:
                return None
            self._cooling = False
        if not self._count:
            return None
        if self._paused:
            self._paused = False
            return self._go_on()
        if self._ending:
            return self._rest(reasons.HALTED)
        if self._sink.holds_clock:
            return self._rest(reasons.LOG_FULL)
        if self.stop_rule is not None and self._stops_before():
            return self._rest(reasons.RULE)
        return self._lead()

    def due_us(self) -> int | None:
        """Board time of the next edge it means to make; None while it waits for somebody else."""
        if self._phase == _LEAD:
            return None if self._held else self._edge_us + self._lead_us + self._grain_us
        if self._phase == _TRAIL:
            return self._edge_us + self._trail_us + self._grain_us
        if self._cooling:
            return self._edge_us + self._cool_us + self._grain_us
        return self._now_us() if self._count else None

    def _boundary(self) -> str | None:
        """The end of a whole tick: the one place where anything may stop the clock."""
        if not self._lead_is_active:
            self._push(self._probes.read())
        return self._go_on()

    def _go_on(self) -> str | None:
        """At a tick boundary: rests, where there is a reason to, or begins the next tick."""
        over = self._rest_if_over()
        if over is not None:
            return over
        if self._halt.now:
            if self.goes_past_halt:
                self._tick_flags = FLAG_HALT_IGNORED
            else:
                return self._rest(reasons.HALT_LINE)
        if self._sink.holds_clock:
            return self._rest(reasons.LOG_FULL)
        if self._stops_before():
            return self._rest(reasons.RULE)
        return self._lead()

    def _stops_before(self) -> bool:
        """Whether a rule on early samples holds for the tick that would come now."""
        rule = self.stop_rule
        if rule is None or not rule.before or self.flags or self._judged_at == self.edges:
            return False
        self._judged_at = self.edges
        now = self._probes.read()
        return rule.holds(now, now, self.tick + 1)

    def _rest_if_over(self) -> str | None:
        if self._matched:
            return self._rest(reasons.RULE)
        if self._count == 0:
            return self._rest(reasons.COUNT)
        if self._ending:
            return self._rest(reasons.HALTED)
        return None

    def _pauses(self) -> bool:
        """Moves the trigger for the tick that would come now; returns whether that one waits a while at rest for it."""
        marked = self._is_marked()
        rises = marked and self.trigger is not None and not self.trigger.value
        self._mark(marked)
        if rises:
            self._paused = self._going
            self._phase = _REST
            self.stay_at_rest(TRIGGER_LEAD_US)
        return rises

    def _is_marked(self) -> bool:
        return not self.flags and self.tick + 1 == self.trigger_tick

    def _mark(self, level: bool) -> None:
        """Moves the trigger, where there is one and it does not stand there already."""
        trigger = self.trigger
        if trigger is not None and trigger.value != level:
            trigger.value = level

    def _rest(self, why: str) -> str:
        self._mark(why == reasons.RULE)
        # The last tick's own phase runs its length, whatever widths are asked for next.
        self._cooling = self._phase == _TRAIL
        self._cool_us = self._trail_us
        self._phase = _REST
        self._count = 0
        self._ending = self._held = False
        return why

    def _lead(self) -> str | None:
        if self._pauses():
            return None
        self._going = True
        if self._lead_is_active:
            self._early = self._sample()
            self._line.value = not self.rest_high
            self._count_edge()
        else:
            self._line.value = not self.rest_high
            self._edge_us = self._now_us()
        self._phase = _LEAD
        if self._count > 0:
            self._count -= 1
        return HELD if self._held else None

    def _trail(self) -> None:
        if self._lead_is_active:
            late = self._sample()
            self._line.value = self.rest_high
            self._edge_us = self._now_us()
            self._push(late)
        else:
            self._early = self._sample()
            self._line.value = self.rest_high
            self._count_edge()
        self._phase = _TRAIL

    def _count_edge(self) -> None:
        self._edge_us = self._active_us = self._now_us()
        self.edges += 1
        self.tick += 1

    def _sample(self) -> int:
        value: int = self._probes.read()
        if self._probes.disagreed:
            self._tick_flags |= FLAG_DISAGREED
        return value

    def _push(self, late: int) -> None:
        self._sink.push(self._early, late, self._active_us, self.flags | self._tick_flags)
        self._tick_flags = 0
        self._judge(late)

    def _judge(self, late: int) -> None:
        """Has the stop rule, if there is one, look at the tick that is complete."""
        rule = self.stop_rule
        if rule is not None and not rule.before and not self.flags:
            self._matched = rule.holds(self._early, late, self.tick)
