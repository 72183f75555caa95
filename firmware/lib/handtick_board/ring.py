"""The ring of tick records: eight bytes a tick, made once, never losing one in silence.

A record: early sample, late sample (16 bits each, little endian; 64 bits each in a wide ring), the low 28 bits of the
time of the active edge in microseconds and four flag bits above them. Records hold no tick number: they follow one
another, and whatever breaks the row (a reset, a gap) is told at its place by the reports queued beside them.
"""

from __future__ import annotations

from struct import pack_into, unpack_from

#: A sample of more bits takes a wide ring.
NARROW_BITS = 16

# How a record is packed and how many bytes that is: for 16 probes, and for more.
_RECORD = ("HHHH", 8)
_WIDE_RECORD = ("QQHH", 20)
# As many as are taken out at once: how they are packed is kept for each number of them.
_MOST_TAKEN = 10


class Ring:
    """Tick records, first in first out.

    Args:
        capacity: how many records it holds, 1 or more; each takes eight bytes, or twenty in a wide ring.
        wide: whether samples may have more than 16 bits.

    Attributes:
        pushed: records put in since the start.
        taken: records taken out since the start.
    """

    def __init__(self, capacity: int, wide: bool = False) -> None:
        self.capacity = capacity
        self.pushed = 0
        self.taken = 0
        self._fields, self._size = _WIDE_RECORD if wide else _RECORD
        # How so many records in a row are packed.
        self._forms = ["<", "<" + self._fields]
        self._bytes = bytearray(capacity * self._size)
        self._write_at = 0
        self._read_at = 0

    @property
    def waiting(self) -> int:
        """How many records it holds."""
        return self.pushed - self.taken

    @property
    def full(self) -> bool:
        """Whether the next record would have no room."""
        return self.pushed - self.taken >= self.capacity

    def push(self, early: int, late: int, time_us: int, flags: int) -> None:
        """Puts a record in; the caller has seen that there is room.

        Args:
            early: early sample, 0 to 65535, or to 2**64 - 1 in a wide ring.
            late: late sample, likewise.
            time_us: board time of the active edge; the low 28 bits are kept.
            flags: 0 to 15.
        """
        high = (flags << 12) | ((time_us >> 16) & 0xFFF)
        pack_into(self._forms[1], self._bytes, self._write_at, early, late, time_us & 0xFFFF, high)
        self._write_at += self._size
        if self._write_at == len(self._bytes):
            self._write_at = 0
        self.pushed += 1

    def take(self, most: int) -> tuple[int, ...]:
        """Takes the oldest records out, at most ``most`` of those there are: ten at once, and fewer where the memory
        ends before.

        Returns:
            Four numbers of each, one record after the other: early sample, late sample, the lower 16 bits of the time
            in microseconds, and the next 12 of it with the flags above them. At once: to take them one by one takes
            half as long as to tell them.
        """
        at, size, forms = self._read_at, self._size, self._forms
        count = min(most, self.pushed - self.taken, (len(self._bytes) - at) // size, _MOST_TAKEN)
        while len(forms) <= count:
            forms.append("<" + self._fields * len(forms))
        at += count * size
        numbers = unpack_from(forms[count], self._bytes, self._read_at)
        self._read_at = 0 if at == len(self._bytes) else at
        self.taken += count
        return numbers

    def clear(self) -> int:
        """Throws every record away and returns how many there were."""
        lost = self.waiting
        self.taken = self.pushed
        self._read_at = self._write_at
        return lost
