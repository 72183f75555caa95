"""Samples of consecutive ticks as bytes, two a sample with the lower first: many compared at once."""

from __future__ import annotations

import functools
import sys
from array import array

_SAMPLE = 0xFFFF


def unpacked(samples: bytes) -> array[int]:
    """The samples as numbers."""
    return _numbers("H", samples)


def paired(expected: bytes, seen: bytes) -> array[int]:
    """One number a tick: the sample expected and, above its 16 bits, the one seen. Such a number is looked up in half
    the time that a pair of two takes."""
    both = bytearray(2 * len(expected))
    both[0::4], both[1::4] = expected[0::2], expected[1::2]
    both[2::4], both[3::4] = seen[0::2], seen[1::2]
    return _numbers("I", both)


def parted(pair: int) -> tuple[int, int]:
    """The two samples of such a number."""
    return pair & _SAMPLE, pair >> 16


def same(one: bytes, other: bytes, probes: int) -> bool:
    """Whether two are equal at every tick, in the probes whose bits are set."""
    return one == other or not _odd(one, other, probes)


def differing(one: bytes, other: bytes, probes: int) -> int:
    """At how many ticks two differ, in the probes whose bits are set."""
    odd = _odd(one, other, probes)
    # The lowest bit of each sample becomes whether any of its sixteen is set.
    for shift in (8, 4, 2, 1):
        odd |= odd >> shift
    return (odd & _every(1, len(one) // 2)).bit_count()


def _numbers(kind: str, values: bytes | bytearray) -> array[int]:
    numbers = array(kind, values)
    if sys.byteorder == "big":
        numbers.byteswap()
    return numbers


def _odd(one: bytes, other: bytes, probes: int) -> int:
    """The bits that differ, of all samples as one number: far faster than a number a sample."""
    both = int.from_bytes(one, "little") ^ int.from_bytes(other, "little")
    return both & _every(probes & _SAMPLE, len(one) // 2)


@functools.lru_cache
def _every(sample: int, ticks: int) -> int:
    """One sample at so many ticks, as one number."""
    return int.from_bytes(sample.to_bytes(2, "little") * ticks, "little")
