"""Values as people write them: whole numbers, and those of which some digits do not matter."""

from __future__ import annotations

# Longer than any value of a bus.
_LONGEST = 90
_BASES = {"0b": (2, "01"), "0x": (16, "0123456789abcdef")}


def read_value(text: str, width: int) -> tuple[int, int] | None:
    """A value, and which of its bits count: none where the text is empty or ``x``; None where it is no such value.

    Args:
        text: a whole number from 0, decimal or beginning with ``0b`` or ``0x``; after those, digits may be ``x``.
        width: how many bits it has room for.
    """
    whole = (1 << width) - 1
    word = text.strip().lower().replace("_", "")
    if word.isascii() and word.isdecimal() and len(word) <= _LONGEST:
        value = int(word)
        return None if value > whole else (value, whole)
    if word in ("", "x"):
        return 0, 0
    base, known = _BASES.get(word[:2], (0, ""))
    digits = word[2:]
    if not base or not digits or len(word) > _LONGEST or not set(digits) <= {*known, "x"}:
        return None
    value = int(digits.replace("x", "0"), base)
    # Where a digit is open, all bits of it are.
    unknown = int("".join(known[-1] if digit == "x" else "0" for digit in digits), base)
    return None if value > whole else (value, whole & ~unknown)
