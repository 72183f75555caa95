"""A stop rule on the board: judged at every tick boundary, so that the clock rests at exactly the right tick.

A rule is words with commas between, in the order of a stack: each condition puts a truth on it, ``&`` and ``|`` join
the last two, ``!`` turns the last one round. Numbers are hexadecimal but for tick numbers and counts.

    N3        first: how many ticks in a row it must hold
    B         second, if at all: judged before the edge, on a fresh sample; otherwise after the tick, on its late one
    E00FF=2A  the bits of the mask are this
    S4.F>9    the bits shifted down by 4 and masked are more (or, with <, less) than this decimal number
    C00FF     some bit of the mask differs between the early and the late sample
    U8000     a bit of the mask rises from the early to the late sample; D8000: falls
    T>100     the tick number is more (<: less, =: equal)
"""

from __future__ import annotations

MOST_WORDS = 24


class StopRule:
    """Judges ticks.

    Args:
        text: the rule.

    Raises:
        ValueError: it is no rule.

    Attributes:
        before: whether it is judged before the edge.
    """

    def __init__(self, text: str) -> None:
        words = text.split(",")
        if words[0][:1] != "N" or len(words) > MOST_WORDS + 2:
            raise ValueError("no rule")
        self._ticks = int(words.pop(0)[1:])
        self.before = words[:1] == ["B"]
        if self.before:
            words.pop(0)
        self._held = 0
        self._words = [_read(word) for word in words]
        depth = 0
        for kind, _, _, _ in self._words:
            if kind == "?":
                raise ValueError("no rule")
            depth += -1 if kind in "&|" else 0 if kind == "!" else 1
            if depth < 1:
                raise ValueError("no rule")
        if depth != 1 or self._ticks < 1:
            raise ValueError("no rule")

    def holds(self, early: int, late: int, tick: int) -> bool:
        """Takes the next tick; returns whether the rule holds there."""
        # The stack is the bits of a number: nothing is allocated in the loop.
        stack = 0
        for kind, mask, value, shift in self._words:
            if kind == "E":
                stack = stack << 1 | (late & mask == value)
            elif kind == "&":
                stack = stack >> 2 << 1 | (stack & 3 == 3)
            elif kind == "|":
                stack = stack >> 2 << 1 | (stack & 3 != 0)
            elif kind == "!":
                stack ^= 1
            elif kind == "C":
                stack = stack << 1 | ((early ^ late) & mask != 0)
            elif kind == "U":
                stack = stack << 1 | (late & ~early & mask != 0)
            elif kind == "D":
                stack = stack << 1 | (early & ~late & mask != 0)
            elif kind == "G":
                stack = stack << 1 | (late >> shift & mask > value)
            elif kind == "L":
                stack = stack << 1 | (late >> shift & mask < value)
            elif kind == "M":
                stack = stack << 1 | (tick > value)
            elif kind == "F":
                stack = stack << 1 | (tick < value)
            else:
                stack = stack << 1 | (tick == value)
        self._held = self._held + 1 if stack else 0
        return self._held >= self._ticks


def _read(word: str):
    """A word as (kind, mask, value, shift); what a kind does not need is 0."""
    kind, rest = word[:1], word[1:]
    if kind in ("&", "|", "!") and not rest:
        return kind, 0, 0, 0
    if kind == "E":
        mask, _, value = rest.partition("=")
        return kind, _number(mask, 16), _number(value, 16), 0
    if kind in ("C", "U", "D"):
        return kind, _number(rest, 16), 0, 0
    if kind == "T":
        return {">": "M", "<": "F", "=": "A"}.get(rest[:1], "?"), 0, _number(rest[1:]), 0
    if kind == "S":
        shift, _, rest = rest.partition(".")
        more = ">" in rest
        mask, _, value = rest.partition(">" if more else "<")
        return "G" if more else "L", _number(mask, 16), _number(value), _number(shift)
    raise ValueError("no rule")


def _number(text: str, base: int = 10) -> int:
    number = int(text, base)
    if number < 0:
        raise ValueError("no rule")
    return number
