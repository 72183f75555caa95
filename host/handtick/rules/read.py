"""Reads a rule as people write it, such as ``data == 0x2A and tick > 100``."""

from __future__ import annotations

from typing import Any

from lark import Lark, Token, Transformer
from lark.exceptions import LarkError, UnexpectedInput, VisitError

from handtick.errors import UsageError
from handtick.rules.model import Both, Compare, Condition, Lines, Moves, Not, Number, Rule, TickNumber, Value, parts
from handtick.rules.possible import can_hold
from handtick.wiring import Bus, Wiring

_GRAMMAR = r"""
    start: either ["for" NUMBER "ticks"]
    ?either: both ("or" both)*
    ?both: single ("and" single)*
    ?single: "not" single -> opposite
        | "(" either ")"
        | value SIGN value -> compare
        | value "&" NUMBER SIGN value -> compare_masked
        | value "&" NUMBER -> any_bit
        | lines -> set
        | HOW "(" lines ")" -> moves
    ?value: lines | NUMBER -> number | "tick" -> tick
    lines: NAME ["." NAME] ["[" NUMBER "]"]
        | "early" "(" NAME ["." NAME] ["[" NUMBER "]"] ")" -> early_lines
    SIGN: "==" | "!=" | "<=" | ">=" | "<" | ">"
    HOW: "changes" | "rises" | "falls"
    NUMBER: /0[xX][0-9a-fA-F]+|0[bB][01]+|[0-9]+/
    NAME: /(?!(and|or|not|for|tick|ticks|early|changes|rises|falls)\b)[A-Za-z_][A-Za-z0-9_-]*/ | /"[^"]+"/
    %ignore /\s+/
"""
_MOST_LETTERS = 500
_MOST_TICKS = 1_000_000
_parser: Lark | None = None


def read_rule(text: str, wiring: Wiring) -> Rule:
    """Reads a rule.

    Args:
        text: the rule. Names are those of the wiring file, in quotes where they are no plain words; ``bus.field`` is a
            field of a bus and ``bus[3]`` one of its bits; ``changes()``, ``rises()`` and ``falls()`` say what a tick
            did; ``early()`` means the sample before the edge; ``tick`` is the tick's number.
        wiring: the names.

    Raises:
        UsageError: it can't be read, names what is not there, or can never hold.
    """
    if len(text) > _MOST_LETTERS:
        raise UsageError(f"the rule is {len(text)} letters long; {_MOST_LETTERS} is the most")
    try:
        condition, ticks = _Reader(wiring).transform(_grammar().parse(text))
    except VisitError as error:
        if isinstance(error.orig_exc, UsageError):
            raise UsageError(f"rule {text!r}: {error.orig_exc}") from error
        raise
    except UnexpectedInput as error:
        where = f"at {text[error.pos_in_stream :][:20]!r}" if error.pos_in_stream is not None else "at its end"
        if error.pos_in_stream is not None and error.pos_in_stream >= len(text.rstrip()):
            where = "at its end"
        raise UsageError(
            f"rule {text!r} can't be read {where}; write it such as: data == 0x2A and tick > 100"
        ) from error
    except (LarkError, RecursionError) as error:
        raise UsageError(f"rule {text!r} can't be read; write it such as: data == 0x2A and tick > 100") from error
    early = _times(condition)
    if len(early) > 1:
        raise UsageError(
            f"rule {text!r}: early() and late values don't go together: one rests before an edge, the other after it"
        )
    impossible = can_hold(condition)
    if impossible:
        raise UsageError(f"rule {text!r} can never hold: {impossible}")
    return Rule(condition, ticks, True in early, text)


def _grammar() -> Lark:
    global _parser
    if _parser is None:
        _parser = Lark(_GRAMMAR, parser="lalr")
    return _parser


def _times(condition: Condition) -> set[bool]:
    """Which samples a condition speaks of: True for early ones, False for late ones."""
    found = set()
    for part in parts(condition):
        values = (part.left, part.right) if isinstance(part, Compare) else (part.lines,)
        found |= {value.early for value in values if isinstance(value, Lines)}
        if isinstance(part, Moves):
            found.add(False)
    return found


class _Reader(Transformer[Token, Any]):
    """Makes conditions of what the grammar found."""

    def __init__(self, wiring: Wiring) -> None:
        super().__init__()
        self._wiring = wiring

    def start(self, found: list[Any]) -> tuple[Condition, int]:
        condition, ticks = found
        count = 1 if ticks is None else _number(ticks)
        if not 1 <= count <= _MOST_TICKS:
            raise UsageError(f"it can hold for 1 to {_MOST_TICKS} ticks in a row, not for {count}")
        return condition, count

    def either(self, found: list[Condition]) -> Condition:
        return _joined("or", found)

    def both(self, found: list[Condition]) -> Condition:
        return _joined("and", found)

    def opposite(self, found: list[Condition]) -> Condition:
        return Not(found[0])

    def compare(self, found: list[Any]) -> Condition:
        left, sign, right = found
        return _compared(left, str(sign), right, None)

    def compare_masked(self, found: list[Any]) -> Condition:
        left, mask, sign, right = found
        return _compared(left, str(sign), right, _number(mask))

    def any_bit(self, found: list[Any]) -> Condition:
        left, mask = found
        return _compared(left, "!=", Number(0), _number(mask))

    def set(self, found: list[Lines]) -> Condition:
        (lines,) = found
        if lines.bits != 1:
            raise UsageError(f"{lines.bus.name} has {lines.bits} bits: say what it is to be, such as == 3")
        return Compare(lines, "==", Number(1))

    def moves(self, found: list[Any]) -> Condition:
        how, lines = found
        if lines.early:
            raise UsageError(f"{how}() compares the early sample with the late one; leave early() out")
        return Moves(lines, str(how))

    def number(self, found: list[Token]) -> Number:
        return Number(_number(found[0]))

    def tick(self, found: list[Any]) -> TickNumber:
        return TickNumber()

    def lines(self, found: list[Any]) -> Lines:
        return self._lines(found, early=False)

    def early_lines(self, found: list[Any]) -> Lines:
        return self._lines(found, early=True)

    def _lines(self, found: list[Any], early: bool) -> Lines:
        name, field, bit = (None if each is None else str(each).strip('"') for each in found)
        bus = self._bus(str(name))
        low, bits = 0, bus.width
        if field is not None:
            if field not in bus.fields:
                there = ", ".join(bus.fields) or "none"
                raise UsageError(f"{name} has no field {field}; its fields: {there}")
            low, bits = bus.fields[field]
        if bit is not None:
            place = int(bit, 0) if not bit.isdecimal() else int(bit)
            if place >= bits:
                raise UsageError(f"{name} has bits 0 to {bits - 1}, no bit {place}")
            low, bits = low + place, 1
        return Lines(bus, low, bits, early)

    def _bus(self, name: str) -> Bus:
        for bus in self._wiring.shown:
            if bus.name == name:
                return bus
        there = ", ".join(bus.name for bus in self._wiring.shown)
        raise UsageError(f"there is no bus or line {name}; there are {there}")


def _joined(word: str, found: list[Condition]) -> Condition:
    whole = found[0]
    for each in found[1:]:
        whole = Both(word, whole, each)
    return whole


def _compared(left: Value, sign: str, right: Value, mask: int | None) -> Condition:
    if isinstance(left, Number) and isinstance(right, Number):
        raise UsageError("two numbers are compared; one side must be a bus, a line or tick")
    if isinstance(left, Number) and mask is None:
        turned = {"<": ">", "<=": ">=", ">": "<", ">=": "<="}.get(sign, sign)
        return Compare(right, turned, left)
    return Compare(left, sign, right, mask)


def _number(token: Token | str) -> int:
    text = str(token)
    value = int(text) if text.isdecimal() else int(text, 0)
    if value >= 1 << 64:
        raise UsageError(f"{text} is too large; numbers end at 2^64 - 1")
    return value
