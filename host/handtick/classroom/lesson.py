"""A lesson: prepared stops with what is said and asked at each, and what the buses should hold on the way.

title = "What a fetch does"
expect = "rain-tally.csv"      # as for `handtick compare`; what does not matter is left empty
rate = "20"                    # ticks a second on the way to a stop

[[stop]]
tick = 2                       # the clock rests after this tick
say = "The instruction is in. Which giver is next?"
ask = "data"                   # everybody may call what the next tick puts on it
"""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from handtick import events, log
from handtick.compare.files import read_trace
from handtick.compare.trace import Row, Trace, packed
from handtick.errors import UsageError
from handtick.quantities import rate_of
from handtick.wiring import Wiring
from handtick_wire.messages import MOST_TICKS

_KEYS: dict[str, type] = {"title": str, "expect": str, "rate": str, "stop": list}
_STOP_KEYS: dict[str, type] = {"tick": int, "say": str, "ask": str}
_LONGEST = 2000


@dataclass(frozen=True, slots=True)
class Stop:
    """One stop: the tick after which the clock rests, what is said there, and the bus to be called, if any."""

    tick: int
    say: str
    ask: str = ""


@dataclass(frozen=True, slots=True)
class Lesson:
    """All of a lesson; ``expect`` is what the early samples should hold, None where the file does not say."""

    title: str
    stops: tuple[Stop, ...]
    rate: str = "1000"
    expect: Trace | None = None


def load_lesson(path: Path, wiring: Wiring) -> Lesson:
    """Reads a lesson.

    Args:
        path: the file; ``expect`` in it is looked for beside it.
        wiring: the names its stops and its expectation use.

    Raises:
        UsageError: it can't be read or says something that has no meaning; the message names the place.
    """
    try:
        said = tomllib.loads(path.read_bytes().decode())
    except UnicodeDecodeError as error:
        raise UsageError(f"{path}: byte {error.start} is not UTF-8 text") from error
    except tomllib.TOMLDecodeError as error:
        raise UsageError(f"{path}: {error}") from error
    except OSError as error:
        raise UsageError(f"{path}: {(error.strerror or 'can not be read').lower()}") from error
    _check(str(path), said, _KEYS)
    stops = tuple(_stop(f"{path}: stop {place}", each, wiring) for place, each in enumerate(said.get("stop", []), 1))
    if not stops:
        raise UsageError(f"{path}: a lesson has at least one [[stop]]")
    if [stop.tick for stop in stops] != sorted({stop.tick for stop in stops}):
        raise UsageError(f"{path}: each stop's tick comes after the one before")
    expect = read_trace(path.parent / said["expect"], wiring) if "expect" in said else None
    return Lesson(said.get("title", path.stem), stops, rate_of(said.get("rate", "1000")), expect)


class Watcher:
    """Compares every tick with what a lesson expects.

    Attributes:
        difference: the first tick that differs, with (bus, expected, held) of each; None while none does.
        compared: how many ticks were compared.
    """

    def __init__(self, expect: Trace, wiring: Wiring) -> None:
        self._wiring = wiring
        self._rows: dict[int, Row] = {row.tick: row for row in expect.rows}
        self.restart()

    def restart(self) -> None:
        """The machine was reset: it begins anew."""
        self.difference: tuple[int, tuple[tuple[str, str, str], ...]] | None = None
        self.compared = 0

    def take(self, tick: events.Tick | log.Tick) -> bool:
        """A tick was made; True where it is the first that differs."""
        row = self._rows.get(tick.tick)
        if row is None or tick.early is None:
            return False
        self.compared += 1
        if self.difference is not None or not (packed(self._wiring, tick.early) ^ row.bits) & row.care:
            return False
        self.difference = tick.tick, tuple(self._differing(row, tick.early))
        return True

    def _differing(self, row: Row, sample: int) -> Any:
        at = 0
        for bus in self._wiring.shown:
            whole = (1 << bus.width) - 1
            want, care, got = row.bits >> at & whole, row.care >> at & whole, bus.value(sample)
            if (want ^ got) & care:
                yield bus.name, bus.text(want), bus.text(got)
            at += bus.width


def _stop(where: str, said: Any, wiring: Wiring) -> Stop:
    if not isinstance(said, dict):
        raise UsageError(f"{where}: a stop is a table: [[stop]]")
    _check(where, said, _STOP_KEYS)
    if not 0 <= said.get("tick", -1) <= MOST_TICKS:
        raise UsageError(f"{where}: the tick after which it rests is needed, from 0 to 2^64 - 1: tick = 12")
    names = [bus.name for bus in wiring.shown]
    if said.get("ask", names[0]) not in names:
        hint = "" if wiring.buses else "; name the wiring file with --wiring"
        raise UsageError(f"{where}: there is no bus {said['ask']!r}; there are {', '.join(names)}{hint}")
    return Stop(said["tick"], said.get("say", ""), said.get("ask", ""))


def _check(where: str, said: dict[str, Any], keys: dict[str, type]) -> None:
    for key, value in said.items():
        if key not in keys:
            raise UsageError(f"{where}: {key!r} means nothing here; there are {', '.join(keys)}")
        if type(value) is not keys[key]:
            raise UsageError(f"{where}: {key} is a {_WORDS[keys[key]]}, and not {value!r}")
        if isinstance(value, str) and len(value) > _LONGEST:
            raise UsageError(f"{where}: {key} has at most {_LONGEST} letters")


_WORDS: dict[type, str] = {str: "text in quotes", int: "whole number", list: "list of [[stop]] tables"}
