"""A rule as the board takes it: masks and values of raw samples, in the order of a stack.

The words are those of ``handtick_board.stop_rule``. What has no such form is judged on the host.
"""

from __future__ import annotations

from handtick.rules.model import Both, Compare, Condition, Lines, Moves, Not, Number, Rule, TickNumber
from handtick_board.stop_rule import MOST_WORDS

_OPPOSITE = {"!=": "==", "<=": ">", ">=": "<"}


def board_form(rule: Rule) -> str | None:
    """The rule as the board takes it; None where it has to be judged on the host."""
    words = _words(rule.condition)
    if words is None or len(words) > MOST_WORDS:
        return None
    return ",".join([f"N{rule.ticks}", *(["B"] if rule.early else []), *words])


def _words(condition: Condition) -> list[str] | None:
    if isinstance(condition, Not):
        inner = _words(condition.inner)
        return None if inner is None else [*inner, "!"]
    if isinstance(condition, Both):
        left, right = _words(condition.left), _words(condition.right)
        return None if left is None or right is None else [*left, *right, "&" if condition.word == "and" else "|"]
    if isinstance(condition, Moves):
        return _moves(condition)
    return _compare(condition)


def _moves(moves: Moves) -> list[str] | None:
    mask = _scattered(moves.lines, moves.lines.most)
    if moves.how == "changes":
        return [f"C{mask:X}"]
    if moves.lines.bits > 1:
        return None
    rises = (moves.how == "rises") != moves.lines.bus.inverted
    return [f"{'U' if rises else 'D'}{mask:X}"]


def _compare(compare: Compare) -> list[str] | None:
    left, right = compare.left, compare.right
    if not isinstance(right, Number) or isinstance(left, Number):
        return None
    sign = _OPPOSITE.get(compare.sign, compare.sign)
    end = ["!"] if compare.sign in _OPPOSITE else []
    if isinstance(left, TickNumber):
        return None if compare.mask is not None else [f"T{sign[0]}{right.number}", *end]
    if sign == "==":
        mask = left.most if compare.mask is None else left.most & compare.mask
        if right.number & ~mask:
            # Never equal: a mask of nothing that is to be something.
            return ["E0=1", *end]
        raw = right.number ^ (mask if left.bus.inverted else 0)
        return [f"E{_scattered(left, mask):X}={_scattered(left, raw):X}", *end]
    return _ordered(left, sign, right.number, end) if compare.mask is None else None


def _ordered(left: Lines, sign: str, number: int, end: list[str]) -> list[str] | None:
    """``<`` and ``>`` for lines whose probes stand side by side."""
    first = left.probes[0]
    if left.probes != tuple(range(first, first + left.bits)):
        return None
    if left.bus.inverted:
        sign, number = {"<": ">", ">": "<"}[sign], left.most - number
    return None if number < 0 else [f"S{first}.{left.most:X}{sign}{number}", *end]


def _scattered(lines: Lines, value: int) -> int:
    """A value's bits at the probes they are on."""
    return sum((value >> bit & 1) << probe for bit, probe in enumerate(lines.probes))
