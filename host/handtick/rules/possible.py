"""Finds rules that can never hold, as far as one comparison at a time can tell."""

from __future__ import annotations

from handtick.rules.model import COMPARISONS, Both, Compare, Condition, Lines, Moves, Not, Number, TickNumber


def can_hold(condition: Condition) -> str:
    """Why a condition can never hold; empty where nothing says that it can't."""
    why: list[str] = []
    may, _ = _outcomes(condition, why)
    return "" if may else why[0] if why else "its parts exclude each other"


def may_hold(condition: Condition, sample: int) -> bool:
    """Whether a condition may hold at a tick with this sample, whatever its number and its other sample are."""
    return _outcomes_with(condition, sample)[0]


def _outcomes_with(condition: Condition, sample: int) -> tuple[bool, bool]:
    """Whether a condition may hold with a sample, and whether it may fail."""
    if isinstance(condition, Not):
        may, may_fail = _outcomes_with(condition.inner, sample)
        return may_fail, may
    if isinstance(condition, Both):
        left, right = _outcomes_with(condition.left, sample), _outcomes_with(condition.right, sample)
        if condition.word == "and":
            return left[0] and right[0], left[1] or right[1]
        return left[0] or right[0], left[1] and right[1]
    if isinstance(condition, Moves) or TickNumber in (type(condition.left), type(condition.right)):
        return True, True
    holds = condition.holds(sample, sample, 0)
    return holds, not holds


def _outcomes(condition: Condition, why: list[str]) -> tuple[bool, bool]:
    """Whether a condition may hold, and whether it may fail."""
    if isinstance(condition, Not):
        may, may_fail = _outcomes(condition.inner, why)
        return may_fail, may
    if isinstance(condition, Both):
        left, right = _outcomes(condition.left, why), _outcomes(condition.right, why)
        if condition.word == "and":
            return left[0] and right[0], left[1] or right[1]
        return left[0] or right[0], left[1] and right[1]
    if isinstance(condition, Moves):
        return True, True
    return _compared(condition, why)


def _compared(compare: Compare, why: list[str]) -> tuple[bool, bool]:
    left, right = compare.left, compare.right
    if isinstance(left, Number):
        return True, True
    most = left.most if compare.mask is None else left.most & compare.mask
    if not isinstance(right, Number):
        return True, True
    holds = COMPARISONS[compare.sign]
    number = right.number
    # The values nearest to the number on either side decide, besides the two ends.
    tried = {value for value in (0, most, number - 1, number, number + 1) if 0 <= value <= most}
    if compare.mask is not None:
        tried = {value for value in tried if value & ~compare.mask == 0} | {0, most}
    outcomes = {holds(value, number) for value in tried}
    if True not in outcomes:
        name = "tick" if isinstance(left, TickNumber) else _name(left)
        why.append(f"{name} goes from 0 to {most} (0x{most:X}), and {number} (0x{number:X}) is compared with it")
    return True in outcomes, False in outcomes


def _name(lines: Lines) -> str:
    return lines.bus.name if lines.bits == lines.bus.width else f"that part of {lines.bus.name}"
