"""How far an account of a board's ticks has come."""

from typing import NamedTuple


class Place(NamedTuple):
    """A tick up to which everything has been heard of, or told to be missing.

    Attributes:
        boot, reset, tick: which tick; tick 0 is the reset itself.
        base: active edges accounted for from the board's start to that reset's zero; None where nobody knows.
        sure: whether the board itself has told that count; if not, ticks before that reset may not be accounted for.
    """

    boot: int
    reset: int
    tick: int
    base: int | None = None
    sure: bool = True
