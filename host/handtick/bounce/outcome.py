"""What a rule made of the presses of a recording: ticks where there should be one, none, or several."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from handtick.bounce.analysis import Press


@dataclass(frozen=True, slots=True)
class Outcome:
    """How a rule did.

    Attributes:
        ticks: how many it made.
        missed: presses that it made none of.
        extra: ticks too many: more than one of a press, and any of a spike.
        latest_us: the longest from a press's first closing to its first tick, in microseconds; None without a tick.
    """

    ticks: int
    missed: int
    extra: int
    latest_us: int | None


def outcome(presses: Sequence[Press], ticks: Sequence[int]) -> Outcome:
    """Sorts ticks by the press they belong to: the last one that began before them or with them.

    Args:
        presses: presses and spikes of a recording, in order.
        ticks: times of ticks, in microseconds, in order.
    """
    ends = [press.start_us for press in presses[1:]] + [max(ticks, default=0) + 1]
    missed, hits, latest_us = 0, 0, None
    for press, end_us in zip(presses, ends, strict=False):
        if press.is_spike:
            continue
        own = [at_us for at_us in ticks if press.start_us <= at_us < end_us]
        if not own:
            missed += 1
            continue
        hits += 1
        latest_us = max(latest_us or 0, own[0] - press.start_us)
    return Outcome(len(ticks), missed, len(ticks) - hits, latest_us)
