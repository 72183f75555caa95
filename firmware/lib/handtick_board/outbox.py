"""Everything the board tells the host, in the order in which it happened, as fast as the port takes it.

Tick records wait in the ring, and samples of bursts in a ring of their own; every other report waits beside with the
place in the row of records it belongs to.
Nothing here ever waits for the port: what it does not take now is kept. What must be thrown away is counted and told.
"""

from __future__ import annotations

from handtick_wire import framing, messages, reasons

from .us_time import LongTime

_TIME_MASK = (1 << 28) - 1
_ERA_SHIFT = 27

# What a queued report does to the numbering of the records after it.
_NOTHING = 0
_ZERO = 1
_SKIP = 2

# The two reports that are said most, as ``messages.say`` and its table have them, the first with its line's number: so
# they take a third of the time.
_TICK = b"%04X tick %d %d %X %X %d %X"
_BLOCK = b"block reset=%d first=%d count=%d time_us=%d period_ps=%d flags=%X check=%X"

# What a host waits for by its id, or asked the board to find out: thrown away only once it has gone.
_ANSWERS = ("done", "refused", "failed", "half", "cycle")

_MOST_GAPS = 16
_MOST_NOTICES = 48
_MOST_QUEUED = 96
_MOST_SMALL_BLOCKS = 16
# Of records that come more than two minutes after the one before, so many may wait: eight bytes each.
_MOST_DATES = 256


def _never() -> bool:
    return False


class Outbox:
    """Queues reports and writes them to a port.

    Args:
        ring: the ring of tick records.
        when_full: "pause" to hold the clock while the ring is full and a host listens, "free" to count what is lost.
        traces: the ``TraceRing`` that blocks are told from; None where the clock makes no bursts.

    Attributes:
        time: board time made whole; noted by the loop each pass.
        open: whether a host has greeted and is still there.
        never_holds: true while ticks may not wait for room (under reset).
        lost: ticks since the start whose records were thrown away for want of room.
    """

    def __init__(self, ring, when_full: str = "pause", traces=None) -> None:
        self.time = LongTime()
        self.open = False
        self.never_holds = False
        self.lost = 0
        self._ring = ring
        self._traces = traces
        self._pauses = when_full == "pause"
        # Reports wait as their kind and fields: they are put into words when the port takes them, not when the clock
        # is about to make an edge.
        self._queue: list[tuple] = []
        # A record holds its time within four minutes. Where that does not tell it from the record before, two numbers
        # wait here: which record of the ring it is, and its era, of two minutes and a bit.
        self._dates: list[int] = []
        self._urgent: list[tuple[str, dict[str, int | str]]] = []
        self._answers: dict[int, tuple[str, dict[str, int | str]]] = {}
        self._unsent = b""
        # What comes after the header of a block that has been written, and how many ticks that is.
        self._payload = b""
        self._block_ticks = 0
        # Ticks that were thrown away behind that block: room in the trace ring is freed in its order.
        self._freed_with_block = 0
        # Blocks in the queue: what they hold is bounded by the trace ring, not by their number.
        self._blocks = 0
        self._number = 0
        self._offered = 0
        self._lost_in_row = 0
        self._era = 0
        self._reset = 0
        # How the next record taken from the ring is numbered and dated.
        self._next_reset = 0
        self._next_tick = 1
        self._record_us = 0

    @property
    def holds_clock(self) -> bool:
        """Whether a tick that began now would have no room for its record and must wait."""
        ring = self._ring
        return ring.pushed - ring.taken >= ring.capacity and self.waits_for_room

    @property
    def waits_for_room(self) -> bool:
        """Whether the clock waits where there is no room, rather than that something is lost."""
        return self._pauses and self.open and not self.never_holds

    @property
    def room(self) -> int:
        """How many more records there is room for."""
        return self._ring.capacity - self._ring.waiting

    @property
    def has_room(self) -> bool:
        """Whether a clock that was held may go on: a quarter of the ring is free, so that it does not stop at once."""
        ring, traces = self._ring, self._traces
        if not (self._pauses and self.open):
            return True
        return 4 * ring.waiting <= 3 * ring.capacity and (traces is None or 4 * traces.used <= 3 * traces.capacity)

    @property
    def takes_small_blocks(self) -> bool:
        """Whether so few blocks wait that one may hold a handful of ticks."""
        return self._blocks < _MOST_SMALL_BLOCKS

    @property
    def waiting(self) -> int:
        """Ticks whose samples are not yet written."""
        traces = 0 if self._traces is None else self._traces.used
        waiting: int = self._ring.waiting + traces
        return waiting

    @property
    def lines(self) -> int:
        """Lines written or dropped since the start."""
        return self._number

    @property
    def crowded(self) -> bool:
        """Whether so many reports wait that no further command should be read.

        Those that wait for a host to greet do not count: its greeting would never be read.
        """
        return (self._reports if self.open else 0) + len(self._urgent) >= _MOST_QUEUED

    @property
    def takes_reports(self) -> bool:
        """Whether a report would be taken rather than dropped; where nobody listens, it does not matter."""
        return self._reports < _MOST_NOTICES or not self.open

    # What is told.

    def push(self, early: int, late: int, time_us: int, flags: int) -> None:
        """Takes the record of a complete tick; where the ring is full, counts it as lost."""
        self._offered += 1
        ring = self._ring
        # A host that reads slowly would make a gap between every two records: few long ones, not many short ones.
        crumbs = self._lost_in_row and self._reports >= _MOST_GAPS
        era = self.time.era(time_us, _ERA_SHIFT)
        far = not 0 <= era - self._era <= 1
        undated = far and len(self._dates) >= 2 * _MOST_DATES
        if crumbs or undated or ring.pushed - ring.taken >= ring.capacity:
            self._lost_in_row += 1
            self.lost += 1
            return
        if self._lost_in_row:
            self._close_gap(self._offered - 1)
        if far:
            self._dates += (ring.pushed, era)
        self._era = era
        ring.push(early, late, time_us, flags)

    def push_block(self, place: int, count: int, time_us: int, period_ps: int, flags: int) -> None:
        """Takes the samples of a burst, in their order; their room is freed once they are told.

        Args:
            place: where in the trace ring they are.
            count: how many ticks.
            time_us: board time of the first active edge.
            period_ps: picoseconds from one active edge to the next.
            flags: of every tick.
        """
        self._close_gap(self._offered)
        self._offered += count
        # Many of these may wait: a row of numbers takes less memory than names for them.
        self._blocks += 1
        self._put("block", (place, self.time.full_us(time_us), period_ps, flags), _SKIP, count)

    def skip(self, count: int) -> None:
        """Counts ticks that were made without samples, as was asked for."""
        if self._reports >= _MOST_QUEUED:
            self.lose(count)
            return
        self._close_gap(self._offered)
        self._offered += count
        first = self._offered - count + 1
        gap = {"reset": self._reset, "first": first, "last": self._offered, "why": reasons.NOT_SAMPLED}
        self._put("gap", gap, _SKIP, count)

    def lose(self, count: int) -> None:
        """Counts ticks whose samples found no room."""
        self._offered += count
        self._lost_in_row += count
        self.lost += count

    def say(self, kind: str, **fields: int | str) -> None:
        """Queues a report that may be dropped, and counted, when too many wait."""
        if self._reports >= _MOST_NOTICES:
            self.drop()
            return
        self._close_gap(self._offered)
        self._put(kind, fields)

    def drop(self) -> None:
        """Counts a report that is not there to be queued: the host sees that a line is missing."""
        self._number += 1

    def say_state(self, mode: str, why: str, asked: str, tick: int, edges: int, rate: str) -> None:
        """Queues what the clock is doing now; ``rate`` is the one it gives, "0" where it is at nobody's rate."""
        self.say(
            "state",
            mode=mode,
            why=why,
            asked=asked,
            reset=self._reset,
            tick=tick,
            edges=edges,
            time_us=self.now_us(),
            rate=rate,
        )

    def say_half(self, phase: str, clock) -> None:
        """Queues what the probes hold after half a tick; ``phase`` is "lead" away from the rest level, else "trail"."""
        self.say(
            "half",
            phase=phase,
            reset=self._reset,
            tick=clock.tick,
            early=clock.early,
            probes=clock.read_probes(),
            time_us=self.now_us(),
        )

    def say_cycle(self, number: int, clock, early: int, passed: int) -> None:
        """Queues what became of a machine that the ready line let go for one cycle; see ``ready_steps.py``."""
        self.say(
            "cycle",
            number=number,
            reset=self._reset,
            # The clock runs on: this is the last tick that is accounted for.
            tick=clock.tick,
            early=early,
            late=clock.read_probes(),
            passed=passed,
            time_us=self.now_us(),
        )

    def say_reset(self, reset_number: int, last_tick: int, edges: int) -> None:
        """Queues that the tick number went back to zero; the records after it count from 1."""
        self._close_gap(self._offered)
        self._offered = 0
        self._reset = reset_number
        if self._reports >= _MOST_QUEUED:
            self._give_up(reset_number)
        self._put("reset", {"reset": reset_number, "tick": last_tick, "edges": edges}, _ZERO, reset_number)

    def say_now(self, kind: str, **fields: int | str) -> None:
        """Queues a report ahead of everything that waits: it tells of now, not of its place in the row."""
        self._urgent.append((kind, fields))

    def answer(self, command_id: int, kind: str, urgent: bool = False, **fields: int | str) -> None:
        """Queues the one answer to a command and keeps it for a repeat of the same command."""
        fields["id"] = command_id
        self._answers[command_id] = (kind, fields)
        if len(self._answers) > 8:
            self._answers.pop(min(self._answers))
        if urgent:
            self._urgent.append((kind, fields))
        else:
            self._close_gap(self._offered)
            self._put(kind, fields)

    def answer_again(self, command_id: int) -> bool:
        """Queues the answer kept for a command; False where none is kept."""
        answer = self._answers.get(command_id)
        if answer is None:
            return False
        self._put(answer[0], answer[1])
        return True

    def forget_answers(self) -> None:
        """A new greeting: its ids start afresh."""
        self._answers.clear()

    def now_us(self) -> int:
        """Microseconds since the start."""
        return self.time.now_us()

    # The port.

    def close(self) -> None:
        """The host is gone: nothing is written until the next greeting, and a half-written line is not finished."""
        self.open = False
        self._unsent = b""
        self._end_block()
        self._urgent.clear()

    def pump(self, port, lines: int, most: int = 4096, goes_on=_never) -> None:
        """Writes up to ``lines`` lines, and of samples up to ``most`` bytes.

        Args:
            port: its ``write(data)`` returns how many bytes it took.
            lines: how many lines.
            most: how many bytes of samples.
            goes_on: asked after each piece of a block that is not yet over; as long as it says True, and the port takes
                something, the block's next piece follows.
        """
        while lines > 0 or self._block_ticks:
            unsent, in_block = self._unsent, self._block_ticks
            if not unsent:
                if not (self.open or self._urgent):
                    return
                before = self._number
                unsent = self._next_lines(lines)
                if not unsent:
                    return
                lines -= self._number - before
            else:
                lines -= 1
            taken = port.write(unsent if len(unsent) <= most else unsent[:most])
            self._unsent = unsent = b"" if taken == len(unsent) else unsent[taken:]
            if in_block and not self._block_ticks:
                # A block is over: to check the samples of a next one takes two milliseconds.
                return
            if (unsent or self._payload) and not (taken and self._block_ticks and goes_on()):
                return

    @property
    def idle(self) -> bool:
        """Whether there is nothing to be written; what waits for a host that is not there does not count."""
        ring = self._ring
        waits = self.open and (self._queue or ring.pushed != ring.taken)
        return not (self._unsent or self._payload or self._urgent or waits)

    def _next_lines(self, most: int) -> bytes:
        """The next line, or those of the next ticks, up to ``most``."""
        if self._payload:
            payload, self._payload = self._payload, b""
            return payload
        if self._block_ticks:
            self._end_block()
            return b"\n"
        if self._urgent:
            kind, fields = self._urgent.pop(0)
            return self._frame(messages.say(kind, **fields))
        ring = self._ring
        while self._queue and self._queue[0][0] <= ring.taken:
            _, kind, fields, effect, value = self._queue.pop(0)
            if kind == "block":
                return self._block(fields, value)
            self._apply(effect, value)
            return self._frame(messages.say(kind, **fields))
        return self._records(most)

    def _records(self, most: int) -> bytes:
        """The lines of the next ticks: one after the other they are put into words in half the time."""
        ring, queue = self._ring, self._queue
        upto = min(ring.pushed, queue[0][0]) if queue else ring.pushed
        dates = self._dates
        if dates:
            if dates[0] == ring.taken:
                self._record_us = dates[1] << _ERA_SHIFT
                del dates[:2]
            if dates:
                upto = min(upto, dates[0])
        count = min(max(1, most), upto - ring.taken)
        if not count:
            return b""
        framed = framing.framed
        number, reset, tick, record_us = self._number, self._next_reset, self._next_tick, self._record_us
        lines = []
        records = ring.take(count)
        for at in range(0, len(records), 4):
            high = records[at + 3]
            record_us += ((high << 16 | records[at + 2]) - record_us) & _TIME_MASK
            numbers = (number & 0xFFFF, reset, tick, records[at], records[at + 1], record_us, high >> 12)
            lines.append(framed(_TICK % numbers))
            number += 1
            tick += 1
        self._number, self._next_tick, self._record_us = number, tick, record_us
        return b"".join(lines)

    def _block(self, values: tuple[int, int, int, int], count: int) -> bytes:
        """A block's header; the payload is written after it."""
        place, time_us, period_ps, flags = values
        self._blocks -= 1
        self._block_ticks = count
        self._payload = self._traces.bytes(place, count)
        first = self._next_tick
        self._next_tick += count
        numbers = (self._next_reset, first, count, time_us, period_ps, flags, framing.check(self._payload))
        return self._frame(_BLOCK % numbers)

    def _end_block(self) -> None:
        self._payload = b""
        if self._block_ticks:
            self._traces.free(self._block_ticks + self._freed_with_block)
            self._block_ticks = self._freed_with_block = 0

    def _apply(self, effect: int, value: int) -> None:
        if effect == _ZERO:
            self._next_reset = value
            self._next_tick = 1
        elif effect == _SKIP:
            self._next_tick += value

    @property
    def _reports(self) -> int:
        """How many reports wait beside records and blocks."""
        return len(self._queue) - self._blocks

    def _frame(self, text: bytes) -> bytes:
        number = self._number
        self._number = number + 1
        return framing.frame_report(number & 0xFFFF, text)

    def _put(self, kind: str, fields, effect: int = _NOTHING, value: int = 0) -> None:
        self._queue.append((self._ring.pushed, kind, fields, effect, value))

    def _close_gap(self, last: int) -> None:
        """Tells of the ticks up to ``last`` that found no room, if there are any."""
        lost, self._lost_in_row = self._lost_in_row, 0
        if lost:
            gap = {"reset": self._reset, "first": last - lost + 1, "last": last, "why": self._why_lost()}
            self._put("gap", gap, _SKIP, lost)

    def _why_lost(self) -> str:
        return reasons.LOG_FULL if self.open else reasons.NO_HOST

    def _give_up(self, reset_number: int) -> None:
        """Too many resets wait unread: throws all but answers away and says how many ticks that was."""
        count = self._ring.clear()
        self.lost += count
        answers = []
        freed = 0
        for report in self._queue:
            _, kind, fields, effect, value = report
            if self.open and kind in _ANSWERS:
                answers.append(report)
                continue
            self._number += 1
            if kind == "block":
                freed += value
            elif kind == "lost":
                # Thrown away before, at an earlier reset.
                count += fields["count"]
            if effect == _SKIP:
                count += value
        self.lost += freed
        if self._block_ticks:
            self._freed_with_block += freed
        elif freed:
            self._traces.free(freed)
        self._queue.clear()
        self._dates.clear()
        self._blocks = 0
        self._era = -2
        self._put("lost", {"reset": reset_number, "count": count, "why": self._why_lost()})
        # After that: whoever waits for an answer has heard what was before it.
        self._queue += answers
