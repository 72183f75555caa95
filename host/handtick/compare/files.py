"""Reads an expectation from CSV or JSON Lines, as `log export` writes them or as people write them by hand.

A value is a number, empty or ``x`` where anything may be, or a number with don't-care digits such as ``0b10x1`` or
``0x2x``. Ticks that say nothing of any bus are left out, so that whoever counts ticks counts what was compared.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path

from handtick.compare.sheets import EARLY, LATE, Line, read_lines, shortened
from handtick.compare.trace import Row, Trace, line_names
from handtick.compare.values import read_value
from handtick.errors import UsageError
from handtick.wiring import Bus, Wiring

_TICK_BITS = 64
_STATES = 1 << 14

# Bits, and which of them count.
_Bits = tuple[int, int]


def read_trace(path: Path, wiring: Wiring, late: bool = False) -> Trace:
    """Reads a file of ticks; of one with several resets, the ticks of the last.

    Args:
        path: ``.csv`` with a heading, or ``.jsonl``. A column is ``NAME early`` or just ``NAME``, which is the same, or
            ``NAME late``.
        wiring: the names; a bus the file does not have does not matter.
        late: whether late samples are wanted, and not early ones.

    Raises:
        UsageError: it can't be read, or there is nothing in it to be compared; the message names the line.
    """
    file = _File(path, wiring, (LATE,) if late else (EARLY,))
    when, other = (LATE, EARLY) if late else (EARLY, LATE)
    alone = file.without(when)
    if alone:
        raise UsageError(
            f"{path}: of {', '.join(alone)} it has {other} samples alone, and {when} ones are compared; "
            f"a column of those is called `{alone[0]} {when}`"
        )
    return file.trace(when)


def read_followed(path: Path, wiring: Wiring) -> tuple[Trace, bool]:
    """Reads a file of ticks to be followed as they are made, and says whether the trace is one of late samples.

    It is where the file has late samples of all that it names: what goes wrong is seen there first.

    Raises:
        UsageError: as ``read_trace``.
    """
    file = _File(path, wiring, (EARLY, LATE))
    if not file.without(LATE):
        return file.trace(LATE), True
    if file.without(EARLY):
        raise UsageError(
            f"{path}: of {', '.join(file.without(EARLY))} it has late samples alone, and of "
            f"{', '.join(file.without(LATE))} early ones alone; give early samples of all, or late ones"
        )
    return file.trace(EARLY), False


class _File:
    """A file's last reset, as rows of the samples that are wanted; all values in it are read, whatever is wanted."""

    def __init__(self, path: Path, wiring: Wiring, wanted: Sequence[str]) -> None:
        self._path = path
        self._wiring = wiring
        # Of each sample the buses that have it somewhere.
        self._named: dict[str, set[str]] = {EARLY: set(), LATE: set()}
        self._buses: dict[str, tuple[Bus, int]] = {}
        at = 0
        for bus in wiring.shown:
            self._buses[bus.name] = bus, at
            at += bus.width
        # What was read of lines that give the same: a machine has few states beside its many ticks.
        self._states: dict[object, tuple[_Bits, _Bits]] = {}
        # Of each reset its ticks, and of each sample wanted their rows; of a tick that is there twice, the later line.
        resets: dict[object, dict[str, dict[int, Row]]] = {}
        self._rows: dict[str, dict[int, Row]] | None = None
        for line in read_lines(path, wiring):
            tick = self._tick(line)
            self._rows = resets.setdefault(line.reset, {when: {} for when in wanted})
            early, late = self._values(line)
            if EARLY in wanted:
                self._rows[EARLY][tick] = Row(tick, *early)
            if LATE in wanted:
                self._rows[LATE][tick] = Row(tick, *late)

    def without(self, when: str) -> list[str]:
        """The buses that have the other sample and not this one."""
        (other,) = {EARLY, LATE} - {when}
        return [name for name in self._buses if name in self._named[other] - self._named[when]]

    def trace(self, when: str) -> Trace:
        """The ticks that say something, in order, whatever the order of the file."""
        if self._rows is None:
            raise UsageError(f"{self._path}: it has no ticks; nothing could be compared with it")
        rows = self._rows[when]
        counting = tuple(rows[tick] for tick in sorted(rows) if rows[tick].care)
        if not counting:
            names = ", ".join(self._buses)
            raise UsageError(
                f"{self._path}: it says no value of {names} at any tick; nothing could be compared with it"
            )
        return Trace(line_names(self._wiring), counting)

    def _tick(self, line: Line) -> int:
        number = read_value(line.tick, _TICK_BITS)
        if number is None or number[1] != (1 << _TICK_BITS) - 1:
            raise UsageError(f"{self._path}: line {line.number}: {shortened(line.tick)} is no tick number")
        return number[0]

    def _values(self, line: Line) -> tuple[_Bits, _Bits]:
        """The early and the late sample: bits, and which of them count."""
        state = line.places, line.values
        known = self._states.get(state)
        if known is None:
            if len(self._states) >= _STATES:
                self._states.clear()
            known = self._states[state] = self._read(line)
        return known

    def _read(self, line: Line) -> tuple[_Bits, _Bits]:
        bits, care = {EARLY: 0, LATE: 0}, {EARLY: 0, LATE: 0}
        for (name, when), given in zip(line.places, line.values, strict=True):
            bus, at = self._buses[name]
            value = (0, 0) if given is None else read_value(given, bus.width)
            if value is None:
                room = f"which has {bus.width} bit{'s' if bus.width > 1 else ''}"
                given = shortened(given or "")
                raise UsageError(f"{self._path}: line {line.number}: {given} is no value of {name}, {room}")
            bits[when] |= value[0] << at
            care[when] |= value[1] << at
            self._named[when].add(name)
        return (bits[EARLY], care[EARLY]), (bits[LATE], care[LATE])
