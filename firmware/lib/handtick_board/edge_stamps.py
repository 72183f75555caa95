"""A PIO program that stamps the tick button's edges to a microsecond, so that a busy loop misses none of them.

A state machine counts its X register down once a microsecond (four cycles at 4 MHz) and looks at the contact each
time. When the level has changed it hands out one word: the lower 31 bits of the count, then the level, lowest. Both
ways round a change take two whole microseconds, so the count keeps time. Closures shorter than a microsecond may pass
unseen; two changes are told apart from two microseconds on.

``WORDS`` is ``SOURCE`` assembled, so that the board need not do it; a test assembles it and compares.
"""

from __future__ import annotations

import array

from .us_time import wrapped

FREQUENCY_HZ = 4_000_000
RING_WORDS = 64

SOURCE = """
.program edge_stamps
low:
    jmp x-- look_low        ; the contact is closed: count a microsecond
look_low:
    jmp pin rose
    jmp low [1]
rose:
    in x, 31
    in pins, 1 [2]          ; 32 bits are in: the word goes out by itself
    jmp x-- high [1]        ; the second microsecond; X at zero falls through to the same place
high:
    jmp x-- look_high       ; the contact is open
look_high:
    jmp pin still_high
    jmp fell
still_high:
    jmp high [1]
fell:
    in x, 31
    in pins, 1 [1]
    jmp x-- low [1]         ; X at zero wraps to the same place
"""

WORDS = array.array(
    "H", (0x0041, 0x00C3, 0x0100, 0x403F, 0x4201, 0x0146, 0x0047, 0x00C9, 0x000A, 0x0106, 0x403F, 0x4101, 0x0140)
)

#: Runs once at the start: X holds all ones.
START_SOURCE = "mov x, ~null"
START_WORDS = array.array("H", (0xA02B,))

#: Run by hand, they hand out a word now.
PROBE_SOURCE = "in x, 31\nin pins, 1"
PROBE_WORDS = array.array("H", (0x403F, 0x4001))


class StampReader:
    """Reads stamps from the ring of words that the state machine fills by itself.

    Args:
        ring: halves of words, the lower one first, all zero to begin with; whoever fills it goes round and round. A
            word of zeros is no stamp (the count passes zero for one microsecond in 36 minutes).

    Attributes:
        at: where in the ring the next stamp is, or will be.
    """

    def __init__(self, ring) -> None:
        self.ring = ring
        self.at = 0

    def next(self) -> tuple[int, bool] | None:
        """The next stamp: microseconds since the start as a board time, and whether the contact is closed; or None."""
        ring, at = self.ring, self.at
        if not (ring[at] or ring[at + 1]):
            return None
        # Once one half is there, so is the other.
        low, high = ring[at], ring[at + 1]
        count = (high & 0x7FFF) << 15 | low >> 1
        closed = not low & 1
        ring[at] = ring[at + 1] = 0
        self.at = (at + 2) % len(ring)
        # X started at all ones, whose lower 30 bits are the whole range of board time less one.
        return ~count & 0x3FFFFFFF, closed


class StampedContact:
    """The tick button with its edges stamped by PIO.

    Args:
        pin: the pin; the contact closes it to ground.
        now_us: gives the board time, from the same crystal as the state machine's clock.
        rp2pio: the module; where a board lacks it, its contact is polled instead.
        pull_up: ``digitalio.Pull.UP``.
    """

    grain_us = 1

    def __init__(self, pin, now_us, rp2pio, pull_up) -> None:
        ring = memoryview(bytearray(4 * RING_WORDS))
        self._reader = StampReader(ring.cast("H"))
        self._machine = rp2pio.StateMachine(
            WORDS,
            frequency=FREQUENCY_HZ,
            init=START_WORDS,
            may_exec=PROBE_WORDS,
            first_in_pin=pin,
            pull_in_pin_up=1,
            jmp_pin=pin,
            jmp_pin_pull=pull_up,
            in_shift_right=False,
            auto_push=True,
            push_threshold=32,
        )
        self._machine.background_read(loop=ring.cast("I"))
        # What the next call gives beside what it finds.
        self._edges: list[tuple[int, bool]] = []
        self._offset_us = 0
        self._machine.run(PROBE_WORDS)
        # The word was made before this moment: dated a little late, a contact is never taken for longer than it was.
        made_by_us = now_us()
        first = self._reader.next()
        while first is not None:
            self._offset_us = wrapped(made_by_us - first[0])
            self._edges = [(made_by_us, first[1])]
            first = self._reader.next()

    @property
    def waiting(self) -> bool:
        """Whether there are edges that were not asked for yet."""
        # Asked in every calm pass, so not by way of the reader.
        reader = self._reader
        return bool(reader.ring[reader.at] or reader.ring[reader.at + 1])

    def edges(self, now_us: int) -> list[tuple[int, bool]]:
        """The edges since the last call, as (board time, closed); at the first call, where the contact stands."""
        reader, edges = self._reader, self._edges
        stamp = reader.next()
        if stamp is None and not edges:
            return edges
        self._edges = []
        while stamp is not None:
            edges.append((stamp[0] + self._offset_us & 0x3FFFFFFF, stamp[1]))
            stamp = reader.next()
        return edges
