"""The host's side of the wire without any I/O or clock: bytes in, events out; commands in, bytes out.

It keeps the account. Each tick has a number, so a tick that did not arrive is named as a gap as soon as anything after
it does. Each line has a running number, so lines that did not arrive are counted. The board's edge count, told at every
start, stop and reset, closes the account across resets.
"""

from __future__ import annotations

import array
import sys
from collections.abc import Callable
from typing import Any

from handtick.events import (
    Answer,
    Block,
    Contact,
    Cycle,
    Damage,
    Event,
    Gap,
    Greeting,
    Half,
    Notice,
    ResetDone,
    State,
    Status,
    Tick,
    Trouble,
    Unplaced,
)
from handtick.place import Place
from handtick.wire_reader import ReportReader
from handtick.wire_reports import Values, named, open_report
from handtick_wire import framing, messages, reasons

LINK = "link"

# A running number this little behind the last one is a line that came again, not one that is 65,000 lines ahead.
_REPEATED = 0x10000 - 1024

# Modes in which no tick is in hand.
_SETTLED = ("rest", "waiting")


class Session:
    """One conversation with one board.

    Args:
        nonce: a number that no other conversation with this board has; 0 to 2**64 - 1.
        resume: how far the account has come already, so that what came after it is missed if it does not arrive; None
            to begin with whatever comes first.
        first_id: id of the first command, 1 or more; the rest go up from there.
        earlier: how far the account of another start of the board had come, given its boot number; None where it is a
            new one. Asked for the first greeting, where that is not of the boot that ``resume`` is of.
    """

    def __init__(
        self,
        nonce: int,
        resume: Place | None = None,
        first_id: int = 1,
        earlier: Callable[[int], Place | None] | None = None,
    ) -> None:
        self._nonce = nonce
        self._reader = ReportReader()
        self._next_id = first_id
        self._number: int | None = None
        self._greeted = False
        self._earlier = earlier
        self._resume(resume)
        self._owing = False
        self._readers: dict[str, Callable[..., list[Event]]] = {
            "hello": self._hello,
            "tick": self._one_tick,
            "block": self._block,
            "half": self._half,
            "cycle": self._cycle,
            "state": self._state,
            "reset": self._reset_done,
            "gap": self._gap,
            "lost": self._lost,
            "notice": self._notice,
            "contact": self._contact,
            "trouble": self._trouble,
            "status": self._status,
            "done": self._done,
            "refused": self._refused,
            "failed": self._failed,
        }
        self._payload = b""

    def _resume(self, place: Place | None) -> None:
        """Goes on with an account; None for one that begins with whatever comes first."""
        self._boot: int | None = place.boot if place else None
        self._reset: int | None = place.reset if place else None
        self._tick: int | None = place.tick if place else None
        # Edges accounted for from the start of the board to the zero of this reset.
        self._base: int | None = place.base if place else None
        # Whether the board has told that count; if not, the reset and the last tick that missing ones come after, where
        # they can only be of one reset; and, beside them, whether a word is owed in case nobody ever tells.
        self._sure = place is None or place.sure
        self._before: tuple[int, int] | None = None
        # The reset in which the account began; what was made before it is no part of it.
        self._began = place.reset if place and place.base is None else 0

    @property
    def boot(self) -> int | None:
        """The board's boot number; None before the first greeting."""
        return self._boot

    @property
    def last(self) -> tuple[int, int, int] | None:
        """(boot, reset, tick) of the last tick accounted for."""
        if self._boot is None or self._reset is None or self._tick is None:
            return None
        return self._boot, self._reset, self._tick

    def greet(self) -> tuple[int, bytes]:
        """A greeting: its id and the bytes to send. Everything up to its answer belongs to somebody else."""
        return self.command("hello", self._nonce)

    def command(self, kind: str, *values: int | str) -> tuple[int, bytes]:
        """A command: its id, which the answer will carry, and the bytes to send; sending them again does no harm."""
        command_id = self._next_id
        self._next_id += 1
        return command_id, framing.frame_command(command_id, messages.ask(kind, *values))

    def receive(self, data: bytes) -> list[Event]:
        """Takes what arrived, in any pieces, and returns what it tells, in order."""
        events: list[Event] = []
        for piece in self._reader.feed(data):
            if isinstance(piece, tuple):
                number, values, self._payload = piece
                events += self._report(number, "block", values)
                self._payload = b""
            else:
                report = open_report(piece)
                events += [Damage(piece)] if report is None else self._report(*report)
        return events

    def disconnected(self) -> list[Event]:
        """The link is gone: what had arrived of a line is damage, and running numbers start afresh."""
        held = self._reader.drop()
        self._number = None
        self._greeted = False
        return [*([Damage(held)] if held else []), *self._write_off()]

    def _report(self, number: int, kind: str, values: Values) -> list[Event]:
        """Takes what a line reports."""
        if not self._greeted and kind != "hello":
            return []
        # A board that has restarted counts its lines from 0 again.
        restarted = kind == "hello" and named(kind, values)["boot"] != self._boot
        missing = 0 if self._number is None or restarted else (number - self._number - 1) & 0xFFFF
        if missing >= _REPEATED:
            return []
        self._number = number
        events = self._readers[kind](*values)
        return [Damage(b"", missing), *events] if missing else events

    # Reports, one reader each, which takes the fields in the order of the table of messages.

    def _hello(self, *values: Any) -> list[Event]:
        fields = named("hello", values)
        boot, reset, tick, edges = (fields[name] for name in ("boot", "reset", "tick", "edges"))
        self._greeted = True
        earlier, self._earlier = self._earlier, None
        if earlier is not None and boot != self._boot and (known := earlier(boot)) is not None:
            # Whoever clocked one board, then another, is back at the first: that one has not restarted.
            self._resume(known)
        restarted = self._boot is not None and boot != self._boot
        written_off = self._write_off() if restarted else []
        if self._boot != boot:
            # What a board that was known before makes after its restart is missed from its start on.
            zero = 0 if restarted else None
            self._boot, self._reset, self._tick, self._base = boot, zero, zero, zero
            self._began, self._before, self._sure = 0, None, True
        greeting = Greeting(boot, reset, tick, edges, fields, restarted)
        if fields["waiting"] == 0 and fields["mode"] in _SETTLED:
            # No tick is in hand and nothing is on its way any more: what has not arrived by now never will.
            return [*written_off, *self._account(reset, tick, edges - tick), greeting]
        return [*written_off, greeting]

    def _one_tick(self, reset: int, tick: int, early: int, late: int, time_us: int, flags: int) -> list[Event]:
        told = Tick(self._known_boot, reset, tick, early, late, time_us, flags)
        if reset == self._reset and tick - 1 == self._tick:
            # The next one, as nearly always.
            self._tick = tick
            return [told]
        if self._is_known(reset, tick):
            # A line that came twice: the log compares the two.
            return [told]
        events = self._account(reset, tick - 1)
        self._tick = tick
        return [*events, told]

    def _block(
        self, reset: int, first: int, count: int, time_us: int, period_ps: int, flags: int, check: int
    ) -> list[Event]:
        last = first + count - 1
        if not self._payload:
            # Its bytes did not arrive as they were sent; what did is handed over as damage.
            return self._account(reset, last)
        samples = array.array("H", self._payload)
        if sys.byteorder == "big":
            samples.byteswap()
        block = Block(self._known_boot, reset, first, samples[::2], samples[1::2], time_us, period_ps, flags)
        if reset == self._reset and first - 1 == self._tick:
            self._tick = last
            return [block]
        if self._is_known(reset, last):
            return [block]
        events = self._account(reset, first - 1)
        self._tick = last
        return [*events, block]

    def _half(self, *values: Any) -> list[Event]:
        return [Half(self._known_boot, **named("half", values))]

    def _cycle(self, *values: Any) -> list[Event]:
        return [Cycle(self._known_boot, **named("cycle", values))]

    def _state(
        self, mode: str, why: str, asked: str, reset: int, tick: int, edges: int, time_us: int, rate: str
    ) -> list[Event]:
        # At rest every tick is whole and its record has gone ahead of this; a tick in hand is not told yet.
        upto = tick if mode in _SETTLED else None
        if mode == "moving" and why in (reasons.ASKED, reasons.ROOM) and tick:
            # About to make ticks: those before it are whole, but for one that was held half way, perhaps.
            upto = tick - 1
        events = self._account(reset, upto, edges - tick)
        return [*events, State(self._known_boot, reset, tick, edges, mode, why, asked, time_us, rate)]

    def _reset_done(self, reset: int, tick: int, edges: int) -> list[Event]:
        events = self._account(reset - 1, tick, edges - tick)
        if self._reset is None or reset > self._reset:
            self._reset, self._tick, self._base, self._sure = reset, 0, edges, True
        events += self._account(reset, None, edges)
        return [*events, ResetDone(self._known_boot, reset, tick, edges)]

    def _gap(self, reset: int, first: int, last: int, why: str) -> list[Event]:
        if self._is_known(reset, last):
            return []
        if self._reset == reset and self._tick is not None:
            first = max(first, self._tick + 1)
        events = self._account(reset, first - 1)
        self._tick = last
        return [*events, Gap(self._known_boot, reset, first, last, why)]

    def _lost(self, reset: int, count: int, why: str) -> list[Event]:
        if self._reset is None:
            self._reset = self._began = reset
            self._tick = 0
        elif reset > self._reset:
            self._cross_resets(reset)
            # Those thrown away and those that did not arrive before can't be told apart by their numbers.
            self._before = None
            if self._base is not None:
                self._base += count
        elif reset > self._began:
            # An edge count has told of them already.
            return []
        return [Unplaced(self._known_boot, reset, count, why)]

    def _notice(self, what: str, count: int, us: int) -> list[Event]:
        return [Notice(what, count, us)]

    def _contact(self, closed: int, time_us: int) -> list[Event]:
        return [Contact(closed == 1, time_us)]

    def _trouble(self, name: str, why: str) -> list[Event]:
        return [Trouble(name, why)]

    def _status(self, *values: Any) -> list[Event]:
        return [Status(named("status", values))]

    def _done(self, command_id: int, tick: int, edges: int) -> list[Event]:
        return [Answer(command_id, "done", "", tick, edges)]

    def _refused(self, command_id: int, why: str) -> list[Event]:
        return [Answer(command_id, "refused", why)]

    def _failed(self, command_id: int, why: str, tick: int, edges: int) -> list[Event]:
        return [Answer(command_id, "failed", why, tick, edges)]

    # The account.

    @property
    def _known_boot(self) -> int:
        assert self._boot is not None
        return self._boot

    def _is_known(self, reset: int, tick: int) -> bool:
        """Whether a tick comes at or before what has been accounted for."""
        if self._reset is None or self._tick is None:
            return False
        return (reset, tick) <= (self._reset, self._tick)

    def _account(self, reset: int, upto: int | None, base: int | None = None) -> list[Event]:
        """Makes sure that everything up to tick ``upto`` of ``reset`` has arrived, and names what has not.

        Args:
            reset: reset number, at or after the last one known.
            upto: the tick that must have arrived by now; None where only the reset is known.
            base: the board's edge count at that reset's zero, where told.
        """
        if self._reset is None:
            self._reset, self._tick, self._base, self._sure = reset, upto, base, True
            self._began = reset
            return []
        if reset < self._reset:
            return []
        if reset > self._reset:
            self._cross_resets(reset)
        events = [] if base is None else self._settle(base)
        if upto is not None:
            if self._tick is not None and upto > self._tick:
                events.append(Gap(self._known_boot, reset, self._tick + 1, upto, LINK))
            if self._tick is None or upto > self._tick:
                self._tick = upto
        return events

    def _cross_resets(self, reset: int) -> None:
        """The reset's own line did not arrive: how many ticks came before it nobody knows until an edge count tells."""
        assert self._reset is not None
        known = self._tick is not None and self._base is not None
        one_reset = known and self._sure and reset == self._reset + 1
        self._before = (self._reset, self._tick or 0) if one_reset else None
        self._base = (self._base or 0) + (self._tick or 0) if known else None
        self._sure, self._owing = False, known
        self._reset, self._tick = reset, 0

    def _settle(self, base: int) -> list[Event]:
        """Names the ticks before this reset that never arrived, now that the edge count at its zero is told."""
        assert self._reset is not None
        missed = 0 if self._base is None else base - self._base
        before = self._before
        self._base, self._before, self._sure, self._owing = base, None, True, False
        if missed <= 0:
            return []
        if before is None:
            return [Unplaced(self._known_boot, self._reset, missed, LINK)]
        return [Gap(self._known_boot, before[0], before[1] + 1, before[1] + missed, LINK)]

    def _write_off(self) -> list[Event]:
        """Perhaps nobody will tell any more how many ticks came before a reset that was not heard of."""
        owing, self._owing = self._owing, False
        if not owing or self._reset is None:
            return []
        return [Unplaced(self._known_boot, self._reset, 0, reasons.RESET)]
