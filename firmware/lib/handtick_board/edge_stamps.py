"""A PIO program that stamps the tick button's edges to a microsecond, so that a busy loop misses none of them.

A state machine counts its X register down once a microsecond (four cycles at 4 MHz) and looks at the contact each
time. When the level has changed it hands out one word: the lower 30 bits of the count, a one, then the level, lowest.
Both ways round a change take two whole microseconds, so the count keeps time. Closures shorter than a microsecond may
pass unseen; two changes are told apart from two microseconds on.

The ring of words has room for 63 edges between two looks. Where more come, which of its words are the oldest is not
known any more: the state machine begins anew, and its first word says where the contact stands by then.

``WORDS`` is the text of ``stamps_source.py`` assembled, so that the board need not do it.
"""

from __future__ import annotations

import array

FREQUENCY_HZ = 4_000_000
RING_WORDS = 64

WORDS = array.array(
    "H", (0x0041, 0x00C3, 0x0100, 0x403E, 0x4041, 0x4101, 0x0147, 0x0248, 0x00C7, 0x403E, 0x4041, 0x4001, 0x0040)
)

#: Run at each start, before the program: X holds all ones, and a word that says where the contact stands goes out.
START_WORDS = array.array("H", (0xA02B, 0xA04B, 0x403E, 0x4041, 0x4001))


class StampReader:
    """Reads stamps from the ring of words that the state machine fills by itself.

    Args:
        ring: halves of words, the lower one first, all zero to begin with; whoever fills it goes round and round. The
            lower half of a stamp is never zero.

    Attributes:
        at: where in the ring the next stamp is, or will be.
    """

    def __init__(self, ring) -> None:
        self.ring = ring
        self.at = 0

    def take(self, offset_us: int = 0) -> list[tuple[int, bool | None]]:
        """The stamps that have come, at most as many as the ring holds.

        Args:
            offset_us: board time at the start.

        Returns:
            Of each: the board time, and whether the contact is closed. Where they are as many as the ring holds, it may
            have been lapped, and they mean nothing: ``clear`` and ``find`` are to follow.
        """
        # In one go and without calls: a press waits for it.
        ring, at = self.ring, self.at
        stamps: list[tuple[int, bool | None]] = []
        for _ in range(len(ring) // 2):
            low = ring[at]
            if not low:
                break
            # Once one half is there, so is the other.
            high = ring[at + 1]
            ring[at] = 0
            at = (at + 2) % len(ring)
            # X started at all ones, whose lower 30 bits are the whole range of board time less one.
            at_us = offset_us - 1 - (high << 14 | low >> 2)
            stamps.append((at_us & 0x3FFFFFFF, not low & 1))
        self.at = at
        return stamps

    def clear(self) -> None:
        """Throws away what the ring holds. Nothing may come in until that is done; ``find`` must follow."""
        ring = self.ring
        for at in range(0, len(ring), 2):
            ring[at] = 0

    def find(self) -> bool | None:
        """Finds the first stamp after ``clear`` and takes it; those after it are the next to be taken.

        Returns:
            Whether the contact was closed; None where the ring is empty, or full again.
        """
        ring = self.ring
        for at in range(0, len(ring), 2):
            low = ring[at]
            if low and not ring[at - 2]:
                ring[at] = 0
                self.at = (at + 2) % len(ring)
                return not low & 1
        return None


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
        self._now_us = now_us
        self._machine = rp2pio.StateMachine(
            WORDS,
            frequency=FREQUENCY_HZ,
            init=START_WORDS,
            first_in_pin=pin,
            pull_in_pin_up=1,
            jmp_pin=pin,
            jmp_pin_pull=pull_up,
            in_shift_right=False,
            auto_push=True,
            push_threshold=32,
        )
        self._machine.background_read(loop=ring.cast("I"))
        self._offset_us = 0
        # What the next call gives before what it finds. By now the pull has had its time.
        self._edges = self._begin()

    @property
    def waiting(self) -> bool:
        """Whether there are edges that were not asked for yet."""
        # Asked at every look, so not by way of the reader.
        reader = self._reader
        return reader.ring[reader.at] != 0

    def edges(self, now_us: int) -> list[tuple[int, bool | None]]:
        """The edges since the last call, as (board time, closed); at the first call, where the contact stands.

        Of a contact that has moved too often for that: (board time, None), then where it stands.
        """
        edges = self._reader.take(self._offset_us)
        if len(edges) == RING_WORDS:
            self._edges = [(now_us, None)]
            edges = self._begin()
        if self._edges:
            edges = self._edges + edges
            self._edges = []
        return edges

    def _begin(self) -> list[tuple[int, bool | None]]:
        """Has the state machine begin anew, whatever was on its way; returns where the contact stands."""
        machine, reader = self._machine, self._reader
        machine.stop()
        reader.clear()
        machine.restart()
        # The first word was made before this moment: dated a little late, a contact is never taken for closed longer
        # than it was.
        self._offset_us = made_by_us = self._now_us()
        closed = reader.find()
        return [] if closed is None else [(made_by_us, closed)]
