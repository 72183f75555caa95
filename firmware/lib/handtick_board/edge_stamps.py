"""A PIO program that stamps the tick button's edges to a microsecond, so that a busy loop misses none of them.

A state machine counts its X register down once a microsecond (four cycles at 4 MHz) and looks at the contact each
time. When the level has changed it hands out one word: the lower 31 bits of the count, then the level, lowest. Both
ways round a change take two whole microseconds, so the count keeps time. Closures shorter than a microsecond may pass
unseen; two changes are told apart from two microseconds on.

``WORDS`` is the text of ``stamps_source.py`` assembled, so that the board need not do it.
"""

from __future__ import annotations

import array

from .us_time import wrapped

FREQUENCY_HZ = 4_000_000
RING_WORDS = 64

WORDS = array.array(
    "H", (0x0041, 0x00C3, 0x0100, 0x403F, 0x4201, 0x0146, 0x0047, 0x00C9, 0x000A, 0x0106, 0x403F, 0x4101, 0x0140)
)

#: Runs once at the start: X holds all ones.
START_WORDS = array.array("H", (0xA02B,))

#: Run by hand, they hand out a word now.
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

    def take(self, offset_us: int = 0) -> list[tuple[int, bool]]:
        """The stamps that have come, at most as many as the ring holds.

        Args:
            offset_us: board time at the start.

        Returns:
            Of each: the board time, and whether the contact is closed.
        """
        # In one go and without calls: a press waits for it.
        ring, at = self.ring, self.at
        stamps = []
        for _ in range(len(ring) // 2):
            if not (ring[at] or ring[at + 1]):
                break
            # Once one half is there, so is the other.
            low, high = ring[at], ring[at + 1]
            ring[at] = ring[at + 1] = 0
            at = (at + 2) % len(ring)
            # X started at all ones, whose lower 30 bits are the whole range of board time less one.
            at_us = offset_us - 1 - ((high & 0x7FFF) << 15 | low >> 1)
            stamps.append((at_us & 0x3FFFFFFF, not low & 1))
        self.at = at
        return stamps


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
        for at_us, closed in self._reader.take():
            self._offset_us = wrapped(made_by_us - at_us)
            self._edges = [(made_by_us, closed)]

    @property
    def waiting(self) -> bool:
        """Whether there are edges that were not asked for yet."""
        # Asked at every look, so not by way of the reader.
        ring, at = self._reader.ring, self._reader.at
        return ring[at] != 0 or ring[at + 1] != 0

    def edges(self, now_us: int) -> list[tuple[int, bool]]:
        """The edges since the last call, as (board time, closed); at the first call, where the contact stands."""
        edges = self._reader.take(self._offset_us)
        if self._edges:
            edges = self._edges + edges
            self._edges = []
        return edges
