"""Reads two parts of a log side by side: stretches that both have traces of as bytes, everything else tick by tick."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any, NamedTuple

from handtick.log.reader import LogReader
from handtick.log.rows import Part
from handtick.log.schema import STRETCH

__all__ = ["StretchOfBoth", "TicksOfBoth", "alike", "together"]


class StretchOfBoth(NamedTuple):
    """The samples of a whole stretch, from the tick `first` on: two bytes a tick, the lower first."""

    first: int
    one: bytes
    other: bytes


class TicksOfBoth(NamedTuple):
    """Ticks in order, each with its sample or None; either side may lack some of those the other has."""

    one: Iterator[tuple[int, int | None]]
    other: Iterator[tuple[int, int | None]]


def together(
    log: LogReader, one: Part, other: Part, late: bool, beyond: int = 0
) -> Iterator[StretchOfBoth | TicksOfBoth]:
    """Give the tick numbers that two parts share, in order; each piece is to be read before the next is asked for.

    Args:
        log: The log.
        one: Ticks of it.
        other: Ticks of it.
        late: Whether the late samples are wanted, and not the early ones.
        beyond: How many ticks before the first that both have, and after the last, are wanted too.
    """
    sample = _sample(late)
    for first, last, trace in _pieces(log, one, other, f"one.{sample}, other.{sample}", beyond):
        if trace:
            yield StretchOfBoth(first, *trace)
        else:
            yield TicksOfBoth(*(log.samples(part.within(first, last), late) for part in (one, other)))


def alike(log: LogReader, one: Part, other: Part, late: bool) -> int | None:
    """Give how many tick numbers two parts share; None where a sample differs at any of them, of those taken."""
    sample = _sample(late)
    rows = f"""SELECT count(*), ifnull(max(one.{sample} <> other.{sample}), 0)
        FROM tick AS one JOIN tick AS other ON other.boot = ? AND other.reset = ? AND other.tick = one.tick
        WHERE one.boot = ? AND one.reset = ? AND one.tick BETWEEN ? AND ?"""
    shared = 0
    for first, last, trace in _pieces(log, one, other, f"one.{sample} <> other.{sample}"):
        if trace:
            count, differs = STRETCH, *trace
        else:
            ((count, differs),) = log.query(rows, other.boot, other.reset, one.boot, one.reset, first, last)
        if differs:
            return None
        shared += count
    return shared


def _pieces(
    log: LogReader, one: Part, other: Part, columns: str, beyond: int = 0
) -> Iterator[tuple[int, int, tuple[Any, ...]]]:
    """Give first and last tick of each piece of what two parts share, with columns of their traces where it is a
    stretch that both have traces of."""
    first, last = max(one.first, other.first), min(one.last, other.last)
    if first > last:
        return
    # Stretches that lie in both parts as a whole.
    lowest, highest = -(-first // STRETCH), (last + 1) // STRETCH - 1
    sql = f"""SELECT one.stretch, {columns} FROM trace AS one
        JOIN trace AS other ON other.boot = ? AND other.reset = ? AND other.stretch = one.stretch
        WHERE one.boot = ? AND one.reset = ? AND one.stretch BETWEEN ? AND ? ORDER BY one.stretch"""
    reached = max(0, first - beyond)
    for stretch, *trace in log.query(sql, other.boot, other.reset, one.boot, one.reset, lowest, highest):
        begin = stretch * STRETCH
        if reached < begin:
            yield reached, begin - 1, ()
        reached = begin + STRETCH
        yield begin, reached - 1, tuple(trace)
    if reached <= last + beyond:
        yield reached, last + beyond, ()


def _sample(late: bool) -> str:
    return "late" if late else "early"
