"""Memory for the samples of bursts: made once, filled by the machine a burst at a time, told and freed in turn."""

from __future__ import annotations

TICK_BYTES = 4


class TraceRing:
    """Room for ticks in a ring, four bytes each: early sample, late sample, lower byte first.

    The samples of one burst lie in a row, so that the hardware can put them there and the port can take them as they
    are: where the ring's end comes first, less is given than asked.

    Args:
        capacity: how many ticks it holds.

    Attributes:
        used: for how many ticks room is taken.
        length: how many ticks the latest room is for.
    """

    def __init__(self, capacity: int) -> None:
        self.capacity = capacity
        self.used = 0
        self.length = 0
        self._bytes = memoryview(bytearray(capacity * TICK_BYTES))
        self._words = self._bytes.cast("H")
        self._read_at = 0
        self._write_at = 0

    @property
    def full(self) -> bool:
        """Whether there is no room at all."""
        return self.used == self.capacity

    def take(self, ticks: int) -> int:
        """Takes room for up to ``ticks`` ticks; ``length`` tells for how many. The ring must not be full.

        Returns:
            The place, for the other calls.
        """
        if self.used == 0:
            self._read_at = self._write_at = 0
        place = self._write_at
        row = (self._read_at if place < self._read_at else self.capacity) - place
        self.length = length = min(ticks, row)
        self._write_at = (place + length) % self.capacity
        self.used += length
        return place

    def keep(self, ticks: int) -> None:
        """Of the room taken latest, only that for the first ``ticks`` ticks is needed."""
        spare = self.length - ticks
        self._write_at = (self._write_at - spare) % self.capacity
        self.used -= spare
        self.length = ticks

    def free(self, ticks: int) -> None:
        """The oldest ``ticks`` ticks have been told."""
        self._read_at = (self._read_at + ticks) % self.capacity
        self.used -= ticks

    def words(self, place: int, ticks: int) -> memoryview[int]:
        """The samples of ``ticks`` ticks at a place, two words each."""
        return self._words[2 * place : 2 * (place + ticks)]

    def bytes(self, place: int, ticks: int) -> memoryview[int]:
        """The same as bytes."""
        return self._bytes[TICK_BYTES * place : TICK_BYTES * (place + ticks)]
