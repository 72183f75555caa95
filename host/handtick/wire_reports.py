"""What a line of the board reports: held against the table of messages, which is made into a pattern a kind once."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from functools import cache
from operator import call
from typing import Any, NamedTuple

from handtick_wire import framing, messages

#: The values of a report's fields, in the order of ``messages.REPORTS``: numbers as whole numbers, the rest as words.
Values = Sequence[Any]

_Reader = Callable[[bytes], int | str | None]

_HEX_DIGITS = b"0123456789ABCDEF"


def open_report(line: bytes) -> tuple[int, str, Values] | None:
    """Takes a line, without its end, apart.

    Returns:
        Its running number, what kind of report it is and the values of the fields; None where it is no line of a board,
        no report of this protocol, or one that can't be true.
    """
    opened = framing.open_frame(line) if line.startswith(framing.REPORT_START) else None
    if opened is None:
        return None
    number, text = opened
    report = read_report(text)
    if report is None or len(number) != 4 or number.strip(_HEX_DIGITS):
        return None
    kind, values = report
    can_be = _CAN_BE.get(kind)
    return (int(number, 16), kind, values) if can_be is None or can_be(*values) else None


def read_report(text: bytes) -> tuple[str, Values] | None:
    """Takes a report apart; the opposite of ``messages.say`` and of a tick record's line.

    Returns:
        The kind and the values of its fields; None where the text is not a report of this protocol. Fields behind those
        that this version knows are left out.
    """
    if text.startswith(b"tick "):
        return _read_tick(text)
    kind = text[: text.find(b" ")]
    if kind not in _KINDS:
        return None
    shape = _shape(_KINDS[kind])
    found = shape.pattern.fullmatch(text)
    if found is None:
        return None
    values = tuple(map(call, shape.readers, found.groups()))
    return None if None in values else (shape.kind, values)


def named(kind: str, values: Values) -> dict[str, Any]:
    """The values of a report by the names of its fields."""
    return {name: value for (name, _), value in zip(messages.REPORTS[kind], values, strict=True)}


def _read_tick(text: bytes) -> tuple[str, Values] | None:
    """A tick record: sent most, it has no names, and the forms of its fields are written out here."""
    found = _shape("tick").pattern.fullmatch(text)
    if found is None:
        return None
    reset, tick, early, late, time_us, flags = found.groups()
    values = (int(reset), int(tick), int(early, 16), int(late, 16), int(time_us), int(flags, 16))
    return None if max(values) > messages.MOST_TICKS else ("tick", values)


def _number(digits: bytes) -> int | None:
    value = int(digits)
    return value if value <= messages.MOST_TICKS else None


def _hexadecimal(digits: bytes) -> int:
    return int(digits, 16)


def _word(text: bytes) -> str:
    return text.decode("ascii", "replace")


# How a form of field is written, and what reads it.
_FORMS: dict[str, tuple[str, _Reader]] = {
    messages.NUMBER: ("([0-9]{1,20})", _number),
    messages.HEX: ("([0-9A-F]{1,16})", _hexadecimal),
    messages.WORD: ("([^ ]+)", _word),
    messages.RATE: ("([^ ]+)", _word),
}


class _Shape(NamedTuple):
    """How a kind of report is written, and what reads each of its fields."""

    kind: str
    pattern: re.Pattern[bytes]
    readers: Sequence[_Reader]


@cache
def _shape(kind: str) -> _Shape:
    """Made when a report of that kind first comes: to make them all takes longer than all else that is said."""
    # The fields of a tick have no names.
    written = (f" {'' if kind == 'tick' else name + '='}{_FORMS[form][0]}" for name, form in messages.REPORTS[kind])
    pattern = re.compile(f"{kind}{''.join(written)}(?: .*)?".encode(), re.DOTALL)
    return _Shape(kind, pattern, [_FORMS[form][1] for _, form in messages.REPORTS[kind]])


_KINDS = {kind.encode(): kind for kind in messages.REPORTS}

# Ticks and resets count from 1, spans are not empty, every tick is an edge. Fields in the table's order.
_CAN_BE: dict[str, Callable[..., bool]] = {
    "tick": lambda reset, tick, early, late, time_us, flags: tick >= 1,
    "block": lambda reset, first, count, time_us, period_ps, flags, check: first >= 1 and count >= 1,
    "gap": lambda reset, first, last, why: 1 <= first <= last,
    "reset": lambda reset, tick, edges: reset >= 1 and tick <= edges,
    "state": lambda mode, why, asked, reset, tick, edges, *_: tick <= edges,
    "hello": lambda protocol, board, uid, firmware, boot, reset, tick, edges, *_: tick <= edges,
}
