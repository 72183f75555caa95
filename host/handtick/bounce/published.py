"""Trains made up from what has been published on how contacts bounce; the figures and their sources are in
``published.csv``."""

from __future__ import annotations

import csv
import functools
import random
from dataclasses import dataclass
from importlib import resources

from handtick.bounce.train import Train

# A press is held for about so long, and let go for so long, in microseconds: quick hands at a button.
_HELD_US = (60_000, 400_000)
_APART_US = (120_000, 600_000)


@dataclass(frozen=True, slots=True)
class Pattern:
    """How one sort of contact bounces, at press and at release alike.

    Attributes:
        name: what sort.
        closings: the least and the most closures in a bounce, before the contact stays.
        closed_us: how long each lasts, in microseconds.
        bounce_most_us: the longest the bounce lasts, in microseconds.
        source: who says so.
    """

    name: str
    closings: tuple[int, int]
    closed_us: tuple[int, int]
    bounce_most_us: int
    source: str

    @property
    def is_press(self) -> bool:
        """Whether somebody presses, and it is not a spike alone."""
        return self.closings[1] > 0


@functools.cache
def patterns() -> tuple[Pattern, ...]:
    """All patterns, in the order of the table."""
    text = resources.files("handtick.bounce").joinpath("published.csv").read_text(encoding="utf-8")
    return tuple(
        Pattern(
            row["pattern"],
            (int(row["closings_least"]), int(row["closings_most"])),
            (int(row["closed_least_us"]), int(row["closed_most_us"])),
            int(row["bounce_most_us"]),
            row["source"],
        )
        for row in csv.DictReader(text.splitlines())
    )


def pattern_named(name: str) -> Pattern:
    """The pattern of a name.

    Raises:
        KeyError: there is none.
    """
    return {pattern.name: pattern for pattern in patterns()}[name]


def make_train(pattern: Pattern, presses: int, seed: int) -> Train:
    """A train of so many presses, or spikes, of a pattern; the same seed makes the same."""
    dice = random.Random(seed)
    edges = [(0, False)]
    at_us = dice.randint(*_APART_US)
    for _ in range(presses):
        if pattern.is_press:
            at_us = _bounce(edges, at_us, pattern, dice)
            edges.append((at_us, True))
            at_us = _bounce(edges, at_us + dice.randint(*_HELD_US), pattern, dice, releasing=True)
        else:
            edges += [(at_us, True), (at_us + dice.randint(*pattern.closed_us), False)]
        at_us = edges[-1][0] + dice.randint(*_APART_US)
    return Train(edges, at_us)


def _bounce(
    edges: list[tuple[int, bool]], at_us: int, pattern: Pattern, dice: random.Random, releasing: bool = False
) -> int:
    """Adds a bounce from ``at_us`` on; returns when it is over."""
    if releasing:
        edges.append((at_us, False))
    length_us = dice.randint(pattern.bounce_most_us // 4, pattern.bounce_most_us)
    count = dice.randint(*pattern.closings)
    part_us = length_us // count
    for place in range(count):
        closed_us = min(dice.randint(*pattern.closed_us), max(1, part_us // 2))
        start_us = at_us + place * part_us + (0 if place == 0 and not releasing else dice.randint(1, part_us // 2))
        edges += [(start_us, True), (start_us + closed_us, False)]
    return at_us + length_us
