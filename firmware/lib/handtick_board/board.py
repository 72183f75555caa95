"""The board: one pass of its loop takes in contacts, lines and bytes, lets the clock go on, and sends what there is.

Everything with a pin, a port or a clock behind it comes in from outside, so that the same board runs on a
microcontroller, under CPython and in simulation.
"""

from __future__ import annotations

from handtick_wire import messages, reasons
from handtick_wire.version import __version__

from . import transitions
from .burst_clock import BurstClock
from .chain import TOP_RATE_MHZ as CHAIN_TOP_RATE_MHZ
from .conductor import Conductor
from .desk import CommandDesk
from .halt_line import HaltLine
from .one_shot import OneShot
from .outbox import Outbox
from .ready_steps import LEAST_PHASE, ReadySteps
from .rim import Identity, Rim
from .ring import NARROW_BITS, Ring
from .settings import Settings
from .soft_clock import SoftwareClock
from .tick_button import TickButton
from .trace_ring import TraceRing
from .us_time import elapsed_us, reached

# Lines written a pass where no edge waits for it; while ticks are made, one: putting it into words keeps the next edge
# waiting. So many ticks that wait to be told are a backlog, which goes first: the loop does not stay with the clock.
_MOST_LINES = 4
_BACKLOG = 64
# Bytes of samples written a pass: at rest, where a press may come, about a millisecond's worth.
_BYTES_AT_REST = 512
_BYTES_MOVING = 1024
_BYTES_IN_BURST = 4096
# The longest that a block is gone on with, before a last piece of it, so that everything else has its turn.
_LONGEST_BLOCK_US = 18_000
# The longest that ports and buttons wait while the loop stays with a fast clock, in microseconds.
_LONGEST_STAY_US = 8000
# Where the ring is that of bursts, so many ticks that were made one by one are kept beside it.
_RECORDS_BESIDE_BURSTS = 512
# With more than sixteen probes a record is wide, and ticks come slowly.
_WIDE_RECORDS = 1024
# The longest that the end of the program waits for the tick in hand.
_LONGEST_END_US = 2_000_000


class Board:
    """Wires the parts together; ``poll`` is the loop's one pass.

    Args:
        rim: pins, port and clock.
        settings: the settings in force.
        identity: who the board is.
        refused: (name, why) of every setting that was refused, told after each greeting.

    Attributes:
        now_us: board time of the latest pass.
    """

    def __init__(self, rim: Rim, settings: Settings, identity: Identity, refused=()) -> None:
        self._rim = rim
        self._settings = settings
        self._identity = identity
        self.now_us = 0
        self._connected = False
        wide = rim.probe_count > NARROW_BITS
        most = _RECORDS_BESIDE_BURSTS if rim.bursts else _WIDE_RECORDS if wide else settings.ring
        self.ring = Ring(min(settings.ring, most), wide)
        traces = TraceRing(settings.ring) if rim.bursts else None
        self.outbox = Outbox(self.ring, settings.when_full, traces)
        self.halt_line = HaltLine(rim.halt_pin)
        self.one_shot = OneShot(settings.press_us, settings.rearm_us)
        on_the_line = (rim.line, rim.probes, self.halt_line, self.outbox, rim.now_us)
        levels = (settings.rest_high, settings.active_falling, settings.clock_grain_us)
        if traces is None:
            self.clock = SoftwareClock(*on_the_line, *levels)
        else:
            self.clock = BurstClock(*on_the_line, *levels, traces)
        self.clock.trigger = rim.trigger
        top_rate_mhz = min(self.clock.top_rate_mhz, settings.top_rate_mhz)
        if rim.chained:
            top_rate_mhz = min(top_rate_mhz, CHAIN_TOP_RATE_MHZ)
        self.conductor = Conductor(
            self.clock,
            self.outbox,
            rim.reset_line,
            self.halt_line,
            settings.step_us,
            min(settings.rate_mhz, top_rate_mhz),
            top_rate_mhz,
            settings.reset_ticks,
            settings.duty_percent,
        )
        self.ready = ReadySteps(self.conductor, self.outbox, rim.make_ready, LEAST_PHASE)
        self.tick_button = TickButton(rim.contact, rim.now_us, self.one_shot, self.outbox, self._press)
        self.desk = CommandDesk(
            self.conductor,
            self.outbox,
            self._describe,
            self._status,
            self._pull,
            self.tick_button.tell,
            refused,
            self.ready,
        )

    def poll(self) -> None:
        """One pass. It waits for an edge that is due before the next pass is, and for a host that reads: 30 ms at most.

        Where it leaves nothing to do, looks for what may come follow, and a second pass where something does.
        """
        looks = self._pass()
        if looks and self._look_out(looks) and self._pass():
            self._tell_at_rest()

    def _pass(self) -> int:
        """Takes in what has come, lets the clock go on and tells.

        Returns:
            How many looks should follow; where any, nothing was told yet.
        """
        rim, clock, outbox = self._rim, self.clock, self.outbox
        self.now_us = now_us = rim.now_us()
        outbox.time.note(now_us)
        self.tick_button.watch(now_us)
        self._watch_halt_line(now_us)
        self._watch_port()
        # By a look of its own at the time: an edge may have been made since the first one.
        self.conductor.poll(rim.now_us())
        self.ready.poll()
        if not clock.resting:
            backlog = outbox.waiting > _BACKLOG
            if rim.pass_us and not backlog:
                self._stay_with_clock()
            most = _BYTES_IN_BURST if clock.needs_nobody else _BYTES_MOVING
            outbox.pump(rim.port, _MOST_LINES if backlog else 1, most, self._may_stay)
        looks = 0
        if rim.looks and clock.rested and self.conductor.mode == transitions.REST:
            self.conductor.arm()
            # Until a contact moves or bytes arrive there is nothing to do for the clock.
            looks = rim.looks if self.one_shot.settled else 0
        if clock.resting and not looks:
            self._tell_at_rest()
        return looks

    @property
    def idle(self) -> bool:
        """Whether nothing is under way and nothing waits to be told."""
        return self.clock.rested and self.conductor.mode == transitions.REST and self.outbox.idle

    def come_to_rest(self) -> None:
        """Ends the tick in hand and rests the line, for whoever is about to let the pins go; waits for that."""
        self.conductor.halt(why=reasons.PROGRAM_ENDS)
        began_us = self._rim.now_us()
        while not self.clock.rested and elapsed_us(self._rim.now_us(), began_us) < _LONGEST_END_US:
            self.conductor.poll(self._rim.now_us())
        # What there is to say of it, as far as the port takes it at once.
        self.outbox.pump(self._rim.port, _MOST_LINES)

    def due_us(self) -> int | None:
        """Board time of the next thing it means to do by itself; None where it waits for the world."""
        due_us = self.clock.due_us()
        contact_us = self.one_shot.due_us()
        if due_us is None or (contact_us is not None and ((contact_us - due_us) & 0x3FFFFFFF) >= 0x20000000):
            return contact_us
        return due_us

    def _look_out(self, looks: int) -> bool:
        """Looks for a contact that moves and for bytes, and goes on telling: a press is to find the loop looking.

        Returns:
            Whether something has come.
        """
        contact, port = self._rim.contact, self._rim.port
        telling = not self.outbox.idle
        # To tell something takes thirty times as long as to look.
        for _ in range(looks // 8 if telling else looks):
            if contact.waiting or port.waiting:
                return True
            if port.connected != self._connected:
                # At once: by the next pass another program may have opened it.
                self._watch_port()
                return True
            if telling:
                self._tell_at_rest()
        return False

    def _tell_at_rest(self) -> None:
        self.outbox.pump(self._rim.port, _MOST_LINES, _BYTES_AT_REST)

    def _stay_with_clock(self) -> None:
        """Waits for edges that are due before another pass would be over; a slow clock leaves time for everything."""
        clock, conductor, rim = self.clock, self.conductor, self._rim
        began_us = now_us = rim.now_us()
        while elapsed_us(now_us, began_us) < _LONGEST_STAY_US:
            due_us = clock.due_us()
            if due_us is None or (not reached(now_us, due_us) and elapsed_us(due_us, now_us) > rim.pass_us):
                return
            if reached(now_us, due_us):
                self._watch_halt_line(now_us)
                conductor.poll(now_us)
            now_us = rim.now_us()

    def _may_stay(self) -> bool:
        """Whether a block that is being told may go on, as nothing waits for a pass, which takes long."""
        rim = self._rim
        if rim.contact.waiting or rim.port.waiting or not self.clock.needs_nobody:
            return False
        return elapsed_us(rim.now_us(), self.now_us) < _LONGEST_BLOCK_US

    def _watch_halt_line(self, now_us: int) -> None:
        halt_line, asserted = self.halt_line, self._rim.halt_pin.value
        if not asserted and not halt_line.asserted:
            return
        clock = self.clock
        if halt_line.update(now_us, asserted, clock.edges_at(now_us), not clock.resting):
            self.outbox.say(
                "notice", what=reasons.SHORT_HALT_PULSE, count=halt_line.short_pulses, us=halt_line.last_pulse_us
            )

    def _press(self) -> None:
        """A press is a tick, or a cycle of a machine that is held while its clock runs."""
        if self.ready.holds:
            self.ready.press()
        else:
            self.conductor.press()

    def _watch_port(self) -> None:
        port = self._rim.port
        if port.connected:
            self._connected = True
            if port.waiting and not self.outbox.crowded:
                self.clock.disarm()
                self.desk.take(port.read())
        elif self._connected:
            self._connected = False
            # A program that only asked who is here never had the clock.
            was_host = self.outbox.open
            # Half a tick made on purpose is kept for the next command of somebody who said goodbye.
            kept = self.desk.parted and self.conductor.mode == transitions.HELD
            self.clock.disarm()
            self.desk.disconnected()
            self._pull("set")
            self.tick_button.tell("off")
            self.conductor.forget_wishes(self._settings.duty_percent)
            self.ready.disconnected()
            self.outbox.close()
            may_rest = self.conductor.limits.may_rest(self._settings.rest_high)
            if was_host and not kept and may_rest and self._settings.when_host_gone == "rest":
                self.conductor.halt(why=reasons.HOST_GONE)

    def _pull(self, way: str) -> None:
        rim = self._rim
        rim.probes.pull(self._settings.probe_pull if way == "set" else way)
        if rim.tug is not None:
            # Before input buffers the probes' own pulls do not reach; left alone, loose wires are high.
            rim.tug.value = way != "down"

    def _counted(self) -> int | str:
        counter = self._rim.counter
        if counter is None:
            return "none"
        count: int | str = counter.read() if self.clock.resting else "moving"
        return count

    def _describe(self) -> dict[str, int | str]:
        settings = self._settings
        return {
            "protocol": messages.PROTOCOL,
            "board": self._identity.name,
            "uid": self._identity.uid,
            "firmware": __version__,
            "boot": self._identity.boot,
            "reset": self.conductor.reset_number,
            "tick": self.clock.tick,
            "edges": self.clock.edges,
            "time_us": self.outbox.now_us(),
            "mode": self.conductor.mode,
            "engine": self.clock.name,
            "top_rate": messages.write_rate(self.conductor.top_rate_mhz),
            "probes": self._rim.probe_count,
            "ring": self._settings.ring if self._rim.bursts else self.ring.capacity,
            "waiting": self.outbox.waiting,
            "press_grain_us": settings.press_grain_us,
            "clock_grain_us": settings.clock_grain_us,
            "rest": "high" if settings.rest_high else "low",
            "when_full": settings.when_full,
            "started": self._identity.started,
        }

    def _status(self) -> dict[str, int | str]:
        return {
            "mode": self.conductor.mode,
            "reset": self.conductor.reset_number,
            "tick": self.clock.tick,
            "edges": self.clock.edges,
            "rate": messages.write_rate(self.conductor.rate_mhz),
            "halt_line": "asserted" if self.halt_line.asserted else "clear",
            "probes": self.clock.read_probes(),
            "waiting": self.outbox.waiting,
            "lost": self.outbox.lost,
            "spikes": self.one_shot.spikes,
            "longest_gap_us": self.one_shot.longest_gap_us,
            "longest_bounce_us": self.one_shot.longest_bounce_us,
            "short_halt_pulses": self.halt_line.short_pulses,
            "supply_mv": "none" if self._rim.supply is None else self._rim.supply.read_mv(),
            "heap_free": self._rim.heap_free(),
            "counted": self._counted(),
            "tug": "none" if self._rim.tug is None else "there",
            "chained": self._rim.chained,
            "high_ns": self.conductor.high_ns,
        }
