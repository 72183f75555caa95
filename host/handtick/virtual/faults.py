"""Larch with something wrong: seeded, repeatable faults of the kinds that builders meet.

A fault is written as a word and what it is about, such as ``stuck:3=1`` or ``slow:sum,1500``; see ``KINDS``. It acts
inside the machine, so that what goes wrong is captured, carried on, and ends up in the log like any other fault.
"""

from __future__ import annotations

import random
from collections.abc import Callable, Sequence

from handtick.errors import UsageError
from handtick.virtual import larch_code as code
from handtick.virtual.larch import WEEK, Larch

#: Kind of fault: (what it is about, what it does).
KINDS = {
    "stuck": ("LINE=LEVEL", "line 0 to 7 of the bus stays at 0 or 1"),
    "swapped": ("LINE,LINE", "two lines of the bus are swapped where the takers are"),
    "joined": ("LINE,LINE", "two lines of the bus touch: either at 0 takes both to 0"),
    "late": ("LINE,US", "line 0 to 15 as probed moves only so long after the rising edge"),
    "wobble": ("LINE,CHANCE", "a line of the bus is captured wrong on so many ticks in a thousand"),
    "slow": (
        "GIVER,US",
        "what a giver gives is there only so long after an edge; sooner, the bus is as it was",
    ),
    "ringing": ("CHANCE", "on so many ticks in a thousand the clock edge rings, and the machine ticks twice"),
    "hold": ("GIVER", "what a giver gives is gone before it is captured, at any rate: the taker gets zeros"),
    "undriven": ("GIVER", "a giver's enable is not wired: nobody drives the bus, which keeps what was on it"),
    "fought": ("GIVER,GIVER", "when the first gives, the second drives too: either at 0 takes a line to 0"),
    "forgets": ("", "the rain gauge is empty once read, and reset does not fill it"),
    "deaf": ("CHANCE", "so many clock edges in a thousand do not reach the machine: too low, or too loaded"),
    "loose": ("PROBE", "a probe's clip, 0 to 15, has come off: nothing drives its wire"),
    "shorted": ("PROBE=LEVEL", "a probe's wire lies against ground (0) or the supply (1)"),
    "bridged": ("PROBE,PROBE", "two probes' wires touch: either at 0 takes both to 0"),
}

Clock = Callable[[], int]


def faulty_larch(program: bytes, fault: str, seed: int = 1, gauge: Sequence[int] = WEEK) -> FaultyLarch:
    """Makes a Larch with a fault.

    Args:
        program: its program.
        fault: the fault.
        seed: chooses which ticks a fault by chance hits; the same seed gives the same ticks.
        gauge: the rain gauge's tips a day.

    Raises:
        UsageError: there is no such fault, or what it is about can't be.
    """
    kind, _, about = fault.partition(":")
    if kind not in KINDS:
        raise UsageError(f"fault {fault!r}: there is no such kind; there are {', '.join(KINDS)}")
    try:
        return _MAKERS[kind](program, gauge, about, random.Random(seed))
    except (ValueError, KeyError) as error:
        raise UsageError(f"fault {fault!r}: write it as {kind}:{KINDS[kind][0]} ({KINDS[kind][1]})") from error


class FaultyLarch(Larch):
    """A Larch whose bus, edges and memory can be meddled with.

    Attributes:
        now_us: gives the time; set by whoever has the board.
        rung: clock edges that arrived and nobody sent, less those that were sent and did not arrive.
    """

    def __init__(self, program: bytes, gauge: Sequence[int]) -> None:
        self.now_us: Clock = lambda: 0
        self.rung = 0
        super().__init__(program, gauge)

    def set_clock(self, level: bool) -> None:
        """See ``Larch``."""
        before = self.halted
        rising = level and not self._clock
        super().set_clock(level)
        if rising and not before:
            self._ticked()

    def _ticked(self) -> None:
        """A tick has just been carried out."""

    def _given(self, giver: int) -> int:
        return self._bus(giver, super()._given(giver))

    def _bus(self, giver: int, value: int) -> int:
        """What is on the bus when a giver gives a value."""
        return value


class _Stuck(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        line, level = about.split("=")
        self._mask = 1 << _line(line)
        self._high = {"0": False, "1": True}[level]
        super().__init__(program, gauge)

    def _bus(self, giver: int, value: int) -> int:
        return value | self._mask if self._high else value & ~self._mask


class _Swapped(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        self._one, self._other = _two_lines(about)
        super().__init__(program, gauge)

    def _bus(self, giver: int, value: int) -> int:
        one, other = value >> self._one & 1, value >> self._other & 1
        rest = value & ~(1 << self._one | 1 << self._other)
        return rest | other << self._one | one << self._other


class _Joined(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        one, other = _two_lines(about)
        self._mask = 1 << one | 1 << other
        super().__init__(program, gauge)

    def _bus(self, giver: int, value: int) -> int:
        return value if value & self._mask == self._mask else value & ~self._mask


class _Late(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        line, us = about.split(",")
        self._mask = 1 << _line(line, 15)
        self._late_us = _whole(us)
        self._before = self._shown = 0
        self._moved_us = -1 << 40
        super().__init__(program, gauge)

    def probes(self) -> int:
        """See ``Larch``; the late line still shows the level of before."""
        now = super().probes()
        if self.now_us() - self._moved_us < self._late_us:
            return now & ~self._mask | self._before & self._mask
        return now

    def _ticked(self) -> None:
        self._before, self._shown = self._shown, super().probes()
        self._moved_us = self.now_us()


class _Wobble(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        line, often = about.split(",")
        self._mask = 1 << _line(line)
        self._often = _chance(often)
        self._dice = chance
        self._wrong = False
        super().__init__(program, gauge)

    def _ticked(self) -> None:
        self._wrong = self._dice.randrange(1000) < self._often

    def _bus(self, giver: int, value: int) -> int:
        return value ^ self._mask if self._wrong else value


class _Slow(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        giver, us = about.split(",")
        self._slow = _giver(giver)
        self._settles_us = _whole(us)
        self._since_us = -1 << 40
        self._was = 0
        super().__init__(program, gauge)

    def _bus(self, giver: int, value: int) -> int:
        early = giver == self._slow and self.now_us() - self._since_us < self._settles_us
        return self._was if early else value

    def _tick(self) -> None:
        was = self.probes() & 0xFF
        super()._tick()
        self._was = was
        self._since_us = self.now_us()


class _Ringing(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        self._often = _chance(about)
        self._dice = chance
        super().__init__(program, gauge)

    def _tick(self) -> None:
        super()._tick()
        if self._dice.randrange(1000) < self._often and not self.halted:
            self.rung += 1
            super()._tick()


class _Hold(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        self._giver = _giver(about)
        super().__init__(program, gauge)

    def _take(self, taker: int, value: int) -> None:
        super()._take(taker, 0 if self._instruction >> 5 == self._giver else value)


class _Undriven(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        self._giver = _giver(about)
        self._kept = 0
        super().__init__(program, gauge)

    def _tick(self) -> None:
        kept = self.probes() & 0xFF
        super()._tick()
        self._kept = kept

    def _bus(self, giver: int, value: int) -> int:
        return self._kept if giver == self._giver else value


class _Fought(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        giver, second = about.split(",")
        self._giver, self._second = _giver(giver), _giver(second)
        super().__init__(program, gauge)

    def _bus(self, giver: int, value: int) -> int:
        return value & Larch._given(self, self._second) if giver == self._giver else value


class _Forgets(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        if about:
            raise ValueError("nothing to say")
        super().__init__(program, gauge)

    def _move(self, giver: int, taker: int) -> None:
        super()._move(giver, taker)
        if giver == code.GAUGE:
            tips = bytearray(self._gauge)
            tips[self.day] = 0
            self._gauge = bytes(tips)


class _Deaf(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        self._often = _chance(about)
        self._dice = chance
        super().__init__(program, gauge)

    def _tick(self) -> None:
        if self._dice.randrange(1000) < self._often:
            self.rung -= 1
        else:
            super()._tick()


class _Loose(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        self._mask = 1 << _line(about, 15)
        self._high = False
        super().__init__(program, gauge)

    def set_pull(self, way: str) -> None:
        """The loose wire follows the pull, and without one keeps what it had."""
        self._high = self._high if way == "none" else way == "up"

    def probes(self) -> int:
        """See ``Larch``."""
        driven = super().probes()
        return driven | self._mask if self._high else driven & ~self._mask


class _Shorted(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        probe, level = about.split("=")
        self._mask = 1 << _line(probe, 15)
        self._high = {"0": False, "1": True}[level]
        super().__init__(program, gauge)

    def probes(self) -> int:
        """See ``Larch``."""
        driven = super().probes()
        return driven | self._mask if self._high else driven & ~self._mask


class _Bridged(FaultyLarch):
    def __init__(self, program: bytes, gauge: Sequence[int], about: str, chance: random.Random) -> None:
        one, other = _two_lines(about, 15)
        self._mask = 1 << one | 1 << other
        super().__init__(program, gauge)

    def probes(self) -> int:
        """See ``Larch``."""
        driven = super().probes()
        return driven if driven & self._mask == self._mask else driven & ~self._mask


_MAKERS: dict[str, Callable[[bytes, Sequence[int], str, random.Random], FaultyLarch]] = {
    "stuck": _Stuck,
    "swapped": _Swapped,
    "joined": _Joined,
    "late": _Late,
    "wobble": _Wobble,
    "slow": _Slow,
    "ringing": _Ringing,
    "hold": _Hold,
    "undriven": _Undriven,
    "fought": _Fought,
    "forgets": _Forgets,
    "deaf": _Deaf,
    "loose": _Loose,
    "shorted": _Shorted,
    "bridged": _Bridged,
}


def _line(text: str, last: int = 7) -> int:
    value = _whole(text)
    if value > last:
        raise ValueError(f"{value} is no line")
    return value


def _two_lines(text: str, last: int = 7) -> tuple[int, int]:
    one, other = (_line(each, last) for each in text.split(","))
    if one == other:
        raise ValueError("one line twice")
    return one, other


def _giver(text: str) -> int:
    return [name for name, _ in code.GIVERS].index(text)


def _chance(text: str) -> int:
    value = _whole(text)
    if not 1 <= value <= 1000:
        raise ValueError(f"{value} in a thousand is no chance")
    return value


def _whole(text: str) -> int:
    if not text.isdecimal() or len(text) > 9:
        raise ValueError(f"{text} is no whole number")
    return int(text)
