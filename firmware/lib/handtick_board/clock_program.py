"""The clock's PIO program, assembled: two loops that make ticks, and a place to stay between them.

The state machine owns the clock pin from the start to the end. It begins with a jump to ``idle`` (a machine starts at
its first word, with whatever X holds from an earlier program) and stays there until it is sent into a loop with
three numbers loaded by hand: X, the ticks to make less one; ISR, how often the leading phase goes round its loop; OSR,
the same for the trailing phase. It comes back to ``idle`` at a tick boundary and nowhere else: when X has run out, when
the halt line asks, or when a word waits in the TX FIFO. X then tells what was not made.

``count`` makes ticks alone. ``trace`` also hands out two samples of sixteen probes a tick, one before either edge. One
instruction is one cycle of the system clock. Text of the program: ``clock_source.py``.
"""

from __future__ import annotations

import array

# (outputs, level of the halt line that stops): the words up to ``idle``, and from there on.
_WORDS = {
    ("clock", "high"): (
        "0009 B846 0082 B047 0084 A045 0069 00C9 0041",
        "0009 A046 4010 B8C2 008D A046 4010 A0C2 B047 0092 A045 0069 00C9 004A",
    ),
    ("clock", "low"): (
        "000A B846 0082 B047 0084 A045 006A 00C9 000A 0041",
        "000A A046 4010 B8C2 008E A046 4010 A0C2 B047 0093 A045 006A 00D8 000A 004B",
    ),
    ("inverse", "high"): (
        "0009 B446 0082 B847 0084 A045 0069 00C9 0041",
        "0009 A046 4010 B4C2 008D A046 4010 A0C2 B847 0092 A045 0069 00C9 004A",
    ),
    ("inverse", "low"): (
        "000A B446 0082 B847 0084 A045 006A 00C9 000A 0041",
        "000A A046 4010 B4C2 008E A046 4010 A0C2 B847 0093 A045 006A 00D8 000A 004B",
    ),
    ("two-phase", "high"): (
        "000C B042 A042 B446 0084 B047 A042 1887 A045 006C 00CC 0041",
        "000C B046 4010 B4C2 0090 A046 4010 A0C2 B047 A042 1896 A045 006C 00CC 004D",
    ),
    ("two-phase", "low"): (
        "000D B042 A042 B446 0084 B047 A042 1887 A045 006D 00CC 000D 0041",
        "000D B046 4010 B4C2 0091 A046 4010 A0C2 B047 A042 1897 A045 006D 00DC 000D 004E",
    ),
}

# Where a two-phase program ends a phase; the instruction after each of these is drawn out too.
_ENDS_OF_PHASES = {"high": (1, 5, 13, 20), "low": (1, 5, 14, 21)}
_LEAST_DEAD, _MOST_DEAD = 2, 8
# Address of the loop that makes ticks alone.
_COUNT = 1

_JMP_PIN, _IN_PINS_16 = 0x00C0, 0x4010
_NOP, _IN_NULL_16 = 0xA042, 0x4070
_SIDE = 0x1000

# Instructions run by hand while the machine stays at idle.
_MOV_ISR_NULL, _MOV_ISR_ISR, _IN_Y_5, _SET_Y = 0xA0C3, 0xA0C6, 0x4045, 0xE040
_MOV_X_ISR, _MOV_X_ALL_ONES, _MOV_OSR_ISR = 0xA026, 0xA02B, 0xA0E6
_JMP_X_LESS_ONE = 0x0040
_PULL_NOBLOCK = 0x8080
#: Hands out X: the ticks not made; all ones where every one was.
X_OUT = (0xA0C1, 0x8000)

#: The most a number loaded by hand may be.
MOST = (1 << 30) - 1
#: As many ticks as a burst can have: X at its most, less the value that tells that all were made.
ENDLESS_TICKS = (1 << 32) - 1


class ClockProgram:
    """The program for one wiring.

    Args:
        outputs: "clock", "inverse" (the complement on the next pin) or "two-phase".
        halt: level of the halt line that stops the clock, "high" or "low"; "none" where there is no such line.
        probes: whether sixteen probes are there to be sampled; without them the samples are zeros.
        inverted: whether the pins rest high: the machine's line rests high, or the buffer inverts, but not both.
        dead_cycles: with two phases, from the fall of one to the rise of the other, 2 to 8 cycles.

    Raises:
        ValueError: the dead time is out of its range.

    Attributes:
        words: the program.
        wrap_target, wrap: where it goes round.
        idle: address of the place to stay.
        pins: how many pins it drives.
        rest: levels of those pins at rest, the clock pin lowest.
    """

    def __init__(
        self, outputs: str = "clock", halt: str = "high", probes: bool = True, inverted: bool = False, dead_cycles=2
    ) -> None:
        if not _LEAST_DEAD <= dead_cycles <= _MOST_DEAD:
            raise ValueError("dead time")
        kind = "low" if halt == "low" else "high"
        before, after = _WORDS[outputs, kind]
        words = [int(word, 16) for word in (before + " " + after).split()]
        self.idle = self.wrap_target = len(before.split())
        self.wrap = len(words) - 1
        self.pins = 1 if outputs == "clock" else 2
        self._two_phase = outputs == "two-phase"
        self._dead = dead_cycles if self._two_phase else 0
        self._flip = (0xC00 if self.pins == 2 else 0x800) if inverted else 0
        if self._two_phase:
            first = min(3, dead_cycles - 2)
            for at in _ENDS_OF_PHASES[kind]:
                words[at] |= first << 8
                words[at + 1] |= (dead_cycles - 2 - first) << 8
        self.words = array.array("H", [self._fitted(word, halt == "none", probes) for word in words])
        lead, trail = {"clock": (1, 0), "inverse": (1, 2), "two-phase": (1, 2)}[outputs]
        self.rest = trail ^ (self._flip >> (12 - self.pins))
        self._lead, self._trail = lead, trail

    # How long things last, in cycles.

    def least(self, traced: bool) -> tuple[int, int]:
        """The shortest leading and trailing phase."""
        if self._two_phase:
            return 5 if traced else 2, 2 * self._dead + 5
        return (5, 8) if traced else (2, 6)

    # What is run by hand.

    def edge(self, leading: bool) -> array.array[int]:
        """Words that make one edge by hand; with two phases, the dead time lies between."""
        words = [self._nop_at(self._lead if leading else self._trail)]
        if self._two_phase:
            words = [self._nop_at(0)] + [_NOP] * _MOST_DEAD + words
        return array.array("H", words)

    def _nop_at(self, level: int) -> int:
        return (_NOP | _SIDE | level << (12 - self.pins)) ^ self._flip

    def _fitted(self, word: int, no_halt: bool, probes: bool) -> int:
        if no_halt and word & 0xFFE0 == _JMP_PIN:
            return _NOP
        if not probes and word & 0xE0FF == _IN_PINS_16:
            return word ^ _IN_PINS_16 ^ _IN_NULL_16
        return word ^ self._flip if word & _SIDE else word


class Loader:
    """The instructions that load a burst into the machine by hand and send it off.

    Args:
        program: the program.
        offset: where in the PIO block's memory it lies.

    Attributes:
        words: the instructions.
    """

    def __init__(self, program: ClockProgram, offset: int) -> None:
        self._program = program
        self._offset = offset
        self._count = self._lead = self._trail = 0
        self._traced = False
        number = [_MOV_ISR_NULL] + [_SET_Y, _IN_Y_5] * 3 + [_MOV_ISR_ISR] + [_SET_Y, _IN_Y_5] * 3
        # Four words at most wait from an earlier request to rest.
        words = [_PULL_NOBLOCK] * 4
        self._trail_at = len(words)
        words += number + [_MOV_OSR_ISR]
        self._count_at = len(words)
        words += number + [_MOV_X_ISR, _NOP]
        self._lead_at = len(words)
        words += number + [0]
        self.words = array.array("H", words)

    def set(self, count: int, lead_cycles: int, trail_cycles: int, traced: bool) -> None:
        """Sets ``count`` ticks, 1 to ``MOST`` or ``ENDLESS_TICKS``; no phase is shorter than the program's shortest."""
        if (
            count == self._count
            and lead_cycles == self._lead
            and trail_cycles == self._trail
            and traced == self._traced
        ):
            # Ticks made by hand are all alike.
            return
        self._count, self._lead, self._trail, self._traced = count, lead_cycles, trail_cycles, traced
        least_lead, least_trail = self._program.least(traced)
        self._put(self._trail_at, trail_cycles - least_trail)
        endless = count == ENDLESS_TICKS
        self._put(self._count_at, 0 if endless else count - 1)
        self.words[self._lead_at - 2] = _MOV_X_ALL_ONES if endless else _MOV_X_ISR
        # All ones less one; a jump to where the machine is.
        self.words[self._lead_at - 1] = _JMP_X_LESS_ONE | self._offset + self._program.idle if endless else _NOP
        self._put(self._lead_at, lead_cycles - least_lead)
        self.words[-1] = self._offset + (self._program.idle + 1 if traced else _COUNT)

    def _put(self, at: int, value: int) -> None:
        # Twice three times five bits: never sixteen in a row, at which the machine would hand the word out.
        words = self.words
        words[at + 1] = _SET_Y | value >> 25
        words[at + 3] = _SET_Y | value >> 20 & 31
        words[at + 5] = _SET_Y | value >> 15 & 31
        words[at + 8] = _SET_Y | value >> 10 & 31
        words[at + 10] = _SET_Y | value >> 5 & 31
        words[at + 12] = _SET_Y | value & 31
