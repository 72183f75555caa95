"""Reads a wiring file; whatever is wrong with it is told with file, line and key."""

from __future__ import annotations

from os import PathLike
from pathlib import Path
from typing import Any

from handtick.errors import UsageError
from handtick.wiring.model import SHOWS, Bus, Clock, Instruction, Start, Wiring
from handtick_board.chain import CHIP_BITS
from handtick_board.clock_limits import MAY_STOP
from handtick_board.pin_map import MOST_CHIPS, MOST_PROBES

_MOST_PROBES = MOST_PROBES + MOST_CHIPS * CHIP_BITS
_MOST_BYTES = 1_000_000
_LONGEST_PHASE_US = 1_000_000_000

#: The keys of each kind of table; "" is the top of the file.
KEYS: dict[str, tuple[str, ...]] = {
    "": ("bus", "line", "instruction", "start", "clock"),
    "clock": ("may_stop", "longest_high_us", "longest_low_us", "ready", "ready_ignored", "ready_ignored_at"),
    "start": ("hand", "command", "check", "same"),
    "bus": ("probes", "show", "inverted", "names", "fields", "steady", "drivers"),
    "line": ("probe", "inverted", "steady"),
    "instruction": ("start", "equals", "address", "listing", "longest"),
}


def load_wiring(path: str | PathLike[str]) -> Wiring:
    """Reads a wiring file.

    Raises:
        UsageError: it can't be read, or says something that has no meaning; the message names file, line and key.
    """
    import tomllib

    file = Path(path)
    try:
        if file.is_file() and file.stat().st_size > _MOST_BYTES:
            raise UsageError(f"wiring file {str(file)!r}: it is larger than a megabyte; that is no wiring file")
        text = file.read_text(encoding="utf-8")
    except UnicodeDecodeError as error:
        raise UsageError(f"wiring file {str(file)!r}: byte {error.start} is not UTF-8 text") from error
    except OSError as error:
        raise UsageError(f"wiring file {str(file)!r}: {(error.strerror or 'can not be read').lower()}") from error
    try:
        table = tomllib.loads(text)
    except (tomllib.TOMLDecodeError, RecursionError) as error:
        raise UsageError(f"wiring file {str(file)!r}: {error}") from error
    return _Reader(str(file), text).wiring(table)


class _Reader:
    """Takes the file's table apart."""

    def __init__(self, path: str, text: str) -> None:
        self._path = path
        self._text = text

    def wiring(self, table: dict[str, Any]) -> Wiring:
        """The whole file."""
        self._known(table, "", ())
        buses = [self._bus(name, part) for name, part in self._tables(table, "bus")]
        buses += [self._line(name, part) for name, part in self._tables(table, "line")]
        names = [bus.name for bus in buses]
        for bus in buses:
            if names.count(bus.name) > 1:
                raise self._wrong(("line", bus.name), "a bus has that name already")
        widths = {bus.name: bus.width for bus in buses}
        for bus in buses:
            for name in bus.drivers:
                if widths.get(name) != 1:
                    raise self._wrong(("bus", bus.name, "drivers"), f"{name!r} is no line of this file")
        instruction = None
        if "instruction" in table:
            instruction = self._instruction(self._table(table["instruction"], ("instruction",)), buses)
        start = self._start(self._table(table.get("start", {}), ("start",)))
        clock = self._clock(self._table(table["clock"], ("clock",)), widths) if "clock" in table else None
        return Wiring(tuple(buses), instruction, self._path, start, clock)

    def _clock(self, part: dict[str, Any], widths: dict[str, int]) -> Clock:
        where = ("clock",)
        self._known(part, "clock", where)
        may_stop = part.get("may_stop", "yes")
        if may_stop not in MAY_STOP:
            raise self._wrong((*where, "may_stop"), f"{may_stop!r} is none of {', '.join(MAY_STOP)}")
        high_us, low_us = (
            self._whole(part.get(key, 0), (*where, key), 0, _LONGEST_PHASE_US)
            for key in ("longest_high_us", "longest_low_us")
        )
        ready, ignored = part.get("ready", ""), part.get("ready_ignored", "")
        if ready not in ("", "high", "low"):
            raise self._wrong((*where, "ready"), f'{ready!r} is neither "high" nor "low"')
        if ignored and not ready:
            raise self._wrong((*where, "ready_ignored"), "it needs the ready line's level, in `ready`")
        if ignored and widths.get(ignored) != 1:
            raise self._wrong((*where, "ready_ignored"), f"{ignored!r} is no line of this file")
        ignored_at = self._whole(part.get("ready_ignored_at", 1), (*where, "ready_ignored_at"), 0, 1)
        return Clock(may_stop, high_us, low_us, ready, ignored, ignored_at)

    def _bus(self, name: str, part: dict[str, Any]) -> Bus:
        where = ("bus", name)
        self._known(part, "bus", where)
        probes = self._probes(part.get("probes"), (*where, "probes"))
        show = part.get("show", "names" if "names" in part else "hex")
        if show not in SHOWS:
            raise self._wrong((*where, "show"), f"{show!r} is none of {', '.join(SHOWS)}")
        top = 1 << len(probes)
        return Bus(
            name,
            probes,
            show,
            self._flag(part, where),
            self._names(part.get("names", {}), (*where, "names"), top),
            self._fields(part.get("fields", {}), (*where, "fields"), len(probes)),
            self._steady(part, where),
            self._drivers(part, where),
        )

    def _line(self, name: str, part: dict[str, Any]) -> Bus:
        where = ("line", name)
        self._known(part, "line", where)
        probe = self._probe(part.get("probe"), (*where, "probe"))
        return Bus(name, (probe,), "decimal", self._flag(part, where), steady=self._steady(part, where))

    def _instruction(self, part: dict[str, Any], buses: list[Bus]) -> Instruction:
        where = ("instruction",)
        self._known(part, "instruction", where)
        known = {bus.name: bus for bus in buses}
        start = part.get("start")
        if start not in known:
            raise self._wrong((*where, "start"), f"{start!r} is no bus or line of this file")
        equals = self._whole(part.get("equals", 1), (*where, "equals"), 0, (1 << known[start].width) - 1)
        address = part.get("address", "")
        if address and address not in known:
            raise self._wrong((*where, "address"), f"{address!r} is no bus or line of this file")
        listing = part.get("listing", {})
        if listing and not address:
            raise self._wrong((*where, "listing"), "a listing needs the bus its addresses are on, in `address`")
        top = 1 << known[address].width if address else 0
        longest = self._whole(part.get("longest", 1000), (*where, "longest"), 1, 1_000_000)
        return Instruction(start, equals, address, self._names(listing, (*where, "listing"), top), longest)

    def _steady(self, part: dict[str, Any], where: tuple[str, ...]) -> str:
        given = part.get("steady", "")
        if given not in ("", "high", "low"):
            raise self._wrong((*where, "steady"), f'{given!r} is neither "high" nor "low", the phases of the clock')
        return str(given)

    def _drivers(self, part: dict[str, Any], where: tuple[str, ...]) -> tuple[str, ...]:
        given = part.get("drivers", [])
        if not isinstance(given, list) or not all(isinstance(name, str) for name in given):
            raise self._wrong((*where, "drivers"), "it takes a list of the names of lines")
        return tuple(given)

    def _start(self, part: dict[str, Any]) -> Start:
        where = ("start",)
        self._known(part, "start", where)
        hand = part.get("hand", "")
        if not isinstance(hand, str) or not all(letter.isprintable() for letter in hand):
            raise self._wrong((*where, "hand"), "it takes a line of text: what is to be done by hand")
        same = self._whole(part.get("same", 4), (*where, "same"), 0, 10_000)
        return Start(hand, self._command(part, "command"), self._command(part, "check"), same)

    def _command(self, part: dict[str, Any], key: str) -> tuple[str, ...]:
        given = part.get(key, [])
        if not isinstance(given, list) or not all(isinstance(word, str) and word for word in given):
            raise self._wrong(("start", key), 'it takes a command as a list of words, such as ["./load", "tally.bin"]')
        return tuple(given)

    def _probes(self, given: Any, where: tuple[str, ...]) -> tuple[int, ...]:
        if isinstance(given, str):
            first, dots, last = given.partition("..")
            if dots and first.isdecimal() and last.isdecimal():
                given = list(range(int(first), int(last) + 1)) if len(first + last) <= 4 else None
        if not isinstance(given, list) or not given:
            raise self._wrong(where, 'give probe numbers, lowest bit first, such as [0, 1, 2] or "0..7"')
        probes = tuple(self._probe(each, where) for each in given)
        if len(set(probes)) != len(probes):
            raise self._wrong(where, "a probe stands there twice")
        return probes

    def _probe(self, given: Any, where: tuple[str, ...]) -> int:
        return self._whole(given, where, 0, _MOST_PROBES - 1)

    def _names(self, given: Any, where: tuple[str, ...], top: int) -> dict[int, str]:
        names = {}
        for key, word in self._table(given, where).items():
            value = _number(key)
            if value is None or value >= top:
                raise self._wrong((*where, key), f"the values that can be named are 0 to {top - 1}")
            if not isinstance(word, str) or not word.isprintable() or not word:
                raise self._wrong((*where, key), "a name is a text in quotes")
            names[value] = word
        return names

    def _fields(self, given: Any, where: tuple[str, ...], width: int) -> dict[str, tuple[int, int]]:
        fields = {}
        for name, bits in self._table(given, where).items():
            if not isinstance(bits, list) or len(bits) != 2:
                raise self._wrong((*where, name), "a field is [lowest bit, how many bits]")
            low = self._whole(bits[0], (*where, name), 0, width - 1)
            fields[name] = (low, self._whole(bits[1], (*where, name), 1, width - low))
        return fields

    def _flag(self, part: dict[str, Any], where: tuple[str, ...]) -> bool:
        given = part.get("inverted", False)
        if not isinstance(given, bool):
            raise self._wrong((*where, "inverted"), f"{given!r} is neither true nor false")
        return given

    def _whole(self, given: Any, where: tuple[str, ...], least: int, most: int) -> int:
        if isinstance(given, bool) or not isinstance(given, int) or not least <= given <= most:
            said = "nothing is given" if given is None else f"{_short(given)} is given"
            raise self._wrong(where, f"{said}; it takes a whole number from {least} to {most}")
        return given

    def _tables(self, table: dict[str, Any], kind: str) -> list[tuple[str, dict[str, Any]]]:
        parts = self._table(table.get(kind, {}), (kind,))
        return [(name, self._table(part, (kind, name))) for name, part in parts.items()]

    def _table(self, given: Any, where: tuple[str, ...]) -> dict[str, Any]:
        if not isinstance(given, dict):
            raise self._wrong(where, "it takes a table of keys and values")
        return given

    def _known(self, part: dict[str, Any], kind: str, where: tuple[str, ...]) -> None:
        for key in part:
            if key not in KEYS[kind]:
                raise self._wrong((*where, key), f"no such key; there are {', '.join(KEYS[kind])}")

    def _wrong(self, where: tuple[str, ...], what: str) -> UsageError:
        from handtick.wiring.lines import line_of

        line = line_of(self._text, where)
        place = f"line {line}, " if line else ""
        return UsageError(f"wiring file {self._path!r}: {place}{'.'.join(where)}: {what}")


def _number(key: str) -> int | None:
    """A key such as ``12``, ``0x0C`` or ``0b1100`` as a number."""
    try:
        return int(key, 0) if len(key) <= 20 and not key.startswith("-") else None
    except ValueError:
        return int(key) if key.isdecimal() and len(key) <= 20 else None


def _short(given: object) -> str:
    text = repr(given)
    return text if len(text) <= 40 else text[:37] + "..."
