"""Calls: what people say the next tick will put on a bus, before it comes. The tick itself is the answer."""

from __future__ import annotations

import csv
import io
from collections import Counter, deque
from collections.abc import Iterable
from dataclasses import dataclass

from handtick.errors import UsageError
from handtick.wiring import Bus

#: Most answers shown, most answered calls kept (a long evening of a large class makes fewer), and most different values
#: shown of one answer.
MOST_ANSWERS = 3
MOST_CALLS = 100_000
MOST_VALUES = 8


@dataclass(frozen=True, slots=True)
class Call:
    """What one person said of one bus at one tick."""

    person: str
    reset: int
    tick: int
    bus: str
    value: int


@dataclass(frozen=True, slots=True)
class Answer:
    """What was called of one bus and what it held.

    Attributes:
        value: what it held, as shown.
        right: how many called that.
        tally: values as shown and how many called each, most called first, those beyond ``MOST_VALUES`` as "others".
    """

    reset: int
    tick: int
    bus: str
    value: str
    right: int
    tally: tuple[tuple[str, int], ...]


class Calls:
    """The calls for the next tick, and all earlier ones.

    Attributes:
        answers: what came of the latest calls, the newest last.
    """

    def __init__(self) -> None:
        self.answers: list[Answer] = []
        self._open: dict[int, dict[str, int]] = {}
        self._place = (0, 0)
        self._kept: deque[tuple[Call, int]] = deque(maxlen=MOST_CALLS)

    def say(self, person: int, bus: Bus, value: int, place: tuple[int, int]) -> None:
        """Somebody calls a value for the next tick, ``place`` being its reset and number; a later call for the same
        bus replaces an earlier one."""
        if place != self._place:
            self._open.clear()
            self._place = place
        self._open.setdefault(person, {})[bus.name] = value

    def made(self) -> int:
        """How many people have called for the next tick."""
        return len(self._open)

    def of(self, person: int) -> dict[str, int]:
        """What somebody has called for the next tick, by bus."""
        return self._open.get(person, {})

    def answer(self, reset: int, tick: int, buses: Iterable[Bus], sample: int, names: dict[int, str]) -> None:
        """A tick has come: ``sample`` is its late sample, ``names`` what people are called. Calls for a tick that was
        passed without being heard of have no answer."""
        for bus in buses if (reset, tick) == self._place else ():
            called = {person: said[bus.name] for person, said in self._open.items() if bus.name in said}
            if not called:
                continue
            held = bus.value(sample)
            for person, value in called.items():
                self._kept.append((Call(names.get(person, ""), reset, tick, bus.name, value), held))
            self.answers.append(_answer(reset, tick, bus, held, list(called.values())))
        del self.answers[:-MOST_ANSWERS]
        self._open.clear()

    def drop(self) -> None:
        """The tick they were for will not come, as the machine was reset."""
        self._open.clear()

    def table(self) -> str:
        """The latest ``MOST_CALLS`` calls that were answered, as CSV (RFC 4180)."""
        text = io.StringIO()
        table = csv.writer(text)
        table.writerow(("reset", "tick", "bus", "who", "called", "held"))
        for call, held in self._kept:
            table.writerow((call.reset, call.tick, call.bus, _no_formula(call.person), call.value, held))
        return text.getvalue()


def read_value(bus: Bus, text: str) -> int:
    """What somebody typed as a value of a bus: as the bus is shown, or with 0x in front, or by its name. Where the bus
    is not shown in hexadecimal, in which 0B is eleven, 0b in front is binary.

    Raises:
        UsageError: it is none, or does not fit.
    """
    word = text.strip()
    for value, name in bus.names.items():
        if name.lower() == word.lower():
            return value
    digits, base = word.lower().replace("_", ""), {"binary": 2, "decimal": 10}.get(bus.show, 16)
    if digits.startswith("0x"):
        digits, base = digits[2:], 16
    elif digits.startswith("0b") and base != 16:
        digits, base = digits[2:], 2
    # Python's own reading takes signs, spaces and digits of other scripts.
    if digits and digits.isascii() and digits.isalnum() and len(digits) <= 16:
        try:
            value = int(digits, base)
        except ValueError:
            value = -1
        if 0 <= value < 1 << bus.width:
            return value
    highest = bus.text((1 << bus.width) - 1) if bus.show != "names" else f"{(1 << bus.width) - 1:X}"
    raise UsageError(f"{word[:20]!r} is no value of {bus.name}: it goes from 0 to {highest}")


def _answer(reset: int, tick: int, bus: Bus, held: int, values: list[int]) -> Answer:
    tally = Counter(values).most_common()
    shown = [(bus.text(value), count) for value, count in tally[:MOST_VALUES]]
    others = sum(count for _, count in tally[MOST_VALUES:])
    if others:
        shown.append(("others", others))
    return Answer(reset, tick, bus.name, bus.text(held), values.count(held), tuple(shown))


def _no_formula(name: str) -> str:
    """A name that no spreadsheet takes for a formula."""
    return f"'{name}" if name[:1] in ("=", "+", "-", "@", "\t", "\r") else name
