"""The clock engine on hardware that makes many ticks by itself: exact in width and number, the loop only asks.

Ticks whose period is short go out in bursts, which the machine below makes without the loop: of one tick where a stop
rule is judged after each. Everything else (half ticks, long periods) is made edge by edge as in ``soft_clock.py``,
through the same machine, so that the line has one owner. Bursts begin and end at tick boundaries: whatever stops, or
changes, asks the machine to end at the next one, and hears how many ticks it made.

With samples, a burst takes half of the memory for them, or 50 ms, and between two bursts the line stays at rest for as
long as the loop takes to come by: while one half is told, the other is filled. Without, a burst is as long as what was
asked for.
"""

from __future__ import annotations

from handtick_wire import reasons
from handtick_wire.messages import FLAG_HALT_IGNORED, FLAG_UNSETTLED

from .clock_program import ENDLESS_TICKS, MOST
from .job import ENDLESS
from .soft_clock import _REST, SoftwareClock
from .us_time import elapsed_us, reached, wrapped

# Beside the phases of ``soft_clock.py``: a burst is under way, or waits for room for its samples.
_BURST = 3
_NO_ROOM = 4

# Ticks longer than this are timed by the loop, so that a halt need not wait for one.
_LONGEST_TICK_US = 50_000
# A traced burst ends at the latest after so long, so that its samples are told while they are news.
_LONGEST_BURST_US = 50_000
# A long burst is looked after at least this often.
_LONGEST_NAP_US = 1 << 26
# How long a burst waits for room before that counts as a stop.
_PATIENCE_US = 500_000
# Samples sooner after an edge than this may show lines that still move.
_SETTLED_NS = 300
# The rate up to which every tick of a run is sampled where nobody says, in thousandths of a hertz.
_TRACE_RATE_MHZ = 100_000_000
# A block costs as much as two lines: bursts of at most so many ticks are told tick by tick; and up to so many where
# blocks are not told as fast as they come, as each that waits takes memory.
_ALWAYS_RECORDS = 2
_MOST_RECORDS = 32


class BurstClock(SoftwareClock):
    """Makes ticks on one line, in bursts where that serves.

    Args:
        line: as for ``SoftwareClock``, and beside it ``hz`` (its cycles a second, a multiple of a million),
            ``least(traced)`` (shortest leading and trailing phase in cycles), ``load(count, lead, trail, samples)``
            (makes a burst ready; ``samples`` is a memory of two words a tick, or None), ``go()`` (sends it off),
            ``busy``, ``end()`` (rests at the next boundary), ``finish()`` (once not busy: the ticks it did not
            make) and ``stopped`` (then: whether it was stopped, by the halt line or ``end()``, be it after its last
            tick).
        traces: the ``TraceRing`` for samples.
        The others as for ``SoftwareClock``; the sink has ``push_block``, ``skip`` and ``lose`` too.
    """

    name = "pio"

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
        traces=None,
    ) -> None:
        super().__init__(line, probes, halt, sink, now_us, rest_high, active_falling, grain_us)
        self.unit_hz = line.hz
        self._mhz = line.hz // 1_000_000
        self.top_rate_mhz = line.hz * 1000 // sum(line.least(True))
        self._traces = traces
        # The most ticks with samples that one burst makes; and where only those of the last ticks are taken, of how
        # many.
        self._most_traced = max(1, traces.capacity // 2)
        self._last_traced = max(1, traces.capacity // 4)
        self._lead_cycles = self._trail_cycles = 0
        self._short = False
        self._aborted = False
        self._waiting_since_us = 0
        # Where the samples of a tick go that is alone; whether one is ready that ``fire`` makes.
        self._one = memoryview(bytearray(4)).cast("H")
        self._armed = False
        # The burst under way: its ticks, how many of them were made before the time that it is reckoned from, whether
        # samples of all were wanted, where they go and where in the ring that is, its phases, that time and when it
        # should end.
        self._burst = 0
        self._passed = 0
        self._burst_wants_samples = True
        self._samples: memoryview[int] | None = None
        self._place: int | None = None
        self._burst_lead = self._burst_trail = 1
        self._began_us = 0
        self._due_us = 0
        self._burst_flags = 0

    # How long phases are, in cycles.

    def least_phases(self) -> tuple[int, int]:
        """The shortest high and low phase of a tick with samples, in cycles."""
        lead, trail = self._line.least(True)
        return (trail, lead) if self.rest_high else (lead, trail)

    def traces(self, count: int, rate_mhz: int) -> bool:
        """Every tick is sampled up to 100 kHz, and at any rate where memory holds the samples of them all."""
        return rate_mhz <= _TRACE_RATE_MHZ or 0 <= count <= self._traces.capacity

    def begin(self, count: int, high: int, low: int, traced: bool = True) -> None:
        """See ``SoftwareClock.begin``."""
        self._armed = False
        self.wants_samples = traced
        SoftwareClock.begin(self, count, high, low)

    def arm(self, high: int, low: int) -> None:
        """See ``SoftwareClock.arm``."""
        if self._armed or not self.rested or self.goes_past_halt or self.flags or self.stop_rule is not None:
            return
        if self._sink.holds_clock or self.trigger_tick or (self.trigger is not None and self.trigger.value):
            return
        self.retime(high, low)
        if self._short:
            self._line.load(1, self._lead_cycles, self._trail_cycles, self._one)
            self._armed = True

    def disarm(self) -> None:
        """See ``SoftwareClock.disarm``."""
        self._armed = False

    def fire(self) -> bool:
        """See ``SoftwareClock.fire``."""
        if not self._armed:
            return False
        self._line.go()
        began_us = self._now_us()
        self._count = 1
        self.wants_samples = self._going = True
        self._ending = self._matched = self._paused = False
        self._note_start(1, 0, self._one, began_us)
        return True

    def retime(self, high: int, low: int) -> None:
        """See ``SoftwareClock.retime``; a burst under way ends at the next boundary and goes on with the new phases."""
        lead, trail = (low, high) if self.rest_high else (high, low)
        if lead == self._lead_cycles and trail == self._trail_cycles:
            return
        self._lead_cycles, self._trail_cycles = lead, trail
        mhz = self._mhz
        super().retime(-(-high // mhz), -(-low // mhz))
        self._short = self._lead_cycles + self._trail_cycles <= _LONGEST_TICK_US * mhz
        self._cut()

    def end(self) -> None:
        """See ``SoftwareClock.end``."""
        super().end()
        self._cut()

    @property
    def needs_nobody(self) -> bool:
        """See ``SoftwareClock.needs_nobody``: while the machine makes a burst, and while there is no room for one.

        Where the clock waits for room, a burst that is over may wait for a while too, with the line at rest.
        """
        if self._phase == _NO_ROOM:
            return self._traces.full
        return self._phase == _BURST and (self._sink.waits_for_room or self._line.busy)

    def edges_at(self, now_us: int) -> int:
        """See ``SoftwareClock.edges_at``; while a burst is under way, by its time."""
        if self._phase != _BURST:
            return self.edges
        return self.edges + min(self._passed + self._ticks_by(now_us), self._burst)

    def poll(self, now_us: int) -> str | None:
        """See ``SoftwareClock.poll``."""
        phase = self._phase
        if phase == _BURST:
            if not self._line.busy:
                return self._collect()
            if reached(now_us, self._due_us):
                self._look_after(now_us)
            return None
        if phase == _NO_ROOM:
            return self._wait(now_us)
        return SoftwareClock.poll(self, now_us)

    def due_us(self) -> int | None:
        """See ``SoftwareClock.due_us``; a burst is due when it should have made all its ticks."""
        if self._phase == _NO_ROOM:
            # It waits for the port; looked at now and then, lest a host that has stopped reading holds it for ever.
            return wrapped(self._now_us() + 1000)
        return self._due_us if self._phase == _BURST else super().due_us()

    # Bursts.

    def _lead(self) -> str | None:
        """The next tick begins: as one of a burst, if it can be."""
        if not self._short or self._held:
            return super()._lead()
        if self.trigger is not None and self._pauses():
            return None
        self._going = True
        if self._halt.asserted and self.goes_past_halt:
            # The machine makes one tick whatever its halt line says.
            return self._start(1, FLAG_HALT_IGNORED)
        if (self._count == 1 and self.wants_samples) or (self.stop_rule is not None and not self.flags):
            return self._start(1, 0)
        # The trigger moves at a tick boundary with the line at rest: its tick is a burst of its own, with samples.
        ahead = 0 if self.flags else self.trigger_tick - self.tick - 1
        most = min(ahead, MOST) if ahead > 0 else ENDLESS_TICKS
        marked = self._is_marked()
        if not self.wants_samples and not marked:
            if self._count == ENDLESS:
                return self._start(most, 0, traced=False)
            if self._count > self._last_traced:
                return self._start(min(most, MOST, self._count - self._last_traced), 0, traced=False)
        count = 1 if marked else min(most, MOST)
        if self._count != ENDLESS:
            count = min(count, self._count)
        by_time = _LONGEST_BURST_US * self._mhz // (self._lead_cycles + self._trail_cycles)
        count = min(count, self._most_traced, max(1, by_time))
        if count <= _MOST_RECORDS and self._sink.waits_for_room:
            count = min(count, self._sink.room)
        return self._start(count, 0)

    def _start(self, count: int, flags: int, traced: bool = True) -> str | None:
        place = samples = None
        if traced and count == 1:
            samples = self._one
        elif traced and not self._traces.full:
            place = self._traces.take(count)
            count = self._traces.length
            samples = self._traces.words(place, count)
        elif traced and self._sink.waits_for_room:
            if self._phase != _NO_ROOM:
                self._waiting_since_us = self._now_us()
            self._phase = _NO_ROOM
            return None
        self._line.load(count, self._lead_cycles, self._trail_cycles, samples)
        self._line.go()
        # After the machine was sent off: a tick is dated a few microseconds late, never early.
        began_us = self._now_us()
        self._place = place
        self._note_start(count, flags, samples, began_us)
        return None

    def _note_start(self, count: int, flags: int, samples, began_us: int) -> None:
        self._armed = False
        self._phase = _BURST
        self._burst = count
        self._passed = 0
        self._burst_flags = flags
        self._burst_wants_samples = self.wants_samples
        self._samples = samples
        self._aborted = False
        self._tick_flags = 0
        self._burst_lead, self._burst_trail = self._lead_cycles, self._trail_cycles
        self._began_us = began_us
        self._expect(count)

    def _expect(self, ticks: int) -> None:
        """The burst should end after so many ticks."""
        whole_us = -(-(self._burst_lead + self._burst_trail) * ticks // self._mhz)
        self._due_us = wrapped(self._began_us + min(whole_us, _LONGEST_NAP_US))

    def _ticks_by(self, now_us: int) -> int:
        """How many whole ticks of the burst there is time for by now."""
        return elapsed_us(now_us, self._began_us) * self._mhz // (self._burst_lead + self._burst_trail)

    def _wait(self, now_us: int) -> str | None:
        if self._ending:
            self._phase = _REST
            return self._rest(reasons.HALTED)
        if not self._traces.full or not self._sink.waits_for_room:
            return self._go_on()
        if elapsed_us(now_us, self._waiting_since_us) > _PATIENCE_US:
            self._phase = _REST
            return self._rest(reasons.LOG_FULL)
        return None

    def _cut(self) -> None:
        if self._phase == _BURST and not self._aborted:
            self._aborted = True
            self._line.end()
            self._expect(min(self._burst - self._passed, self._ticks_by(self._now_us()) + 1))

    def _look_after(self, now_us: int) -> None:
        """A burst goes on for longer than could be said: it is reckoned from a tick that is not long ago."""
        passed = max(0, min(self._ticks_by(now_us), self._burst - self._passed - 1))
        period = self._burst_lead + self._burst_trail
        self._passed += passed
        self._began_us = wrapped(self._began_us + passed * period // self._mhz)
        self._expect(1 if self._aborted else self._burst - self._passed)

    def _collect(self) -> str | None:
        """The burst has ended at a tick boundary: tells its ticks and goes on."""
        left = self._line.finish()
        made = self._burst - left
        self._phase = _REST
        self.edges += made
        self.tick += made
        if self._count > 0:
            self._count -= made
        self._tell(made)
        if self._line.stopped and not self._aborted and not self.goes_past_halt:
            # After its last tick, what else there is to rest for comes first.
            over = None if left else self._rest_if_over()
            return over or self._rest(reasons.HALT_LINE)
        return self._go_on()

    def _tell(self, made: int) -> None:
        place, self._place = self._place, None
        samples = self._samples
        if samples is None:
            if self._burst_wants_samples:
                self._sink.lose(made)
            else:
                self._sink.skip(made)
            return
        if place is not None and made != self._burst:
            self._traces.keep(made)
        if not self._lead_is_active:
            # The trailing edge clocks the machine: a tick's samples are the second one of its round in the hardware
            # and the first one of the next, or, after the last, what the probes hold now.
            samples[0 : 2 * made - 1] = samples[1 : 2 * made]
            samples[2 * made - 1] = self._probes.read()
        self._early = samples[2 * made - 2]
        flags = self.flags | self._burst_flags | self._unsettled()
        period = self._burst_lead + self._burst_trail
        began_us = self._began_us if self._lead_is_active else self._began_us + self._burst_lead // self._mhz
        if place is not None and self._told_as_block(made):
            self._sink.push_block(place, made, wrapped(began_us), period * 1_000_000 // self._mhz, flags)
            return
        for at in range(made):
            at_us = wrapped(began_us + at * period // self._mhz)
            self._sink.push(samples[2 * at], samples[2 * at + 1], at_us, flags)
        if place is not None:
            self._traces.keep(0)
        else:
            self._judge(samples[1])

    def _told_as_block(self, made: int) -> bool:
        sink = self._sink
        if made > _MOST_RECORDS or (made > _ALWAYS_RECORDS and sink.takes_small_blocks):
            return True
        return made > sink.room and sink.waits_for_room

    def _unsettled(self) -> int:
        """The flag for samples that were taken too soon after an edge; those of a burst are all alike."""
        shortest = min(self._burst_lead, self._burst_trail)
        return FLAG_UNSETTLED if shortest * 1000 < _SETTLED_NS * self._mhz else 0
