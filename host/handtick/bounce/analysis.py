"""Presses in a recording: how long each bounced, what was the longest hole in one, and what times suit the button."""

from __future__ import annotations

import itertools
from collections.abc import Sequence
from dataclasses import dataclass

from handtick.bounce.train import Span, Train
from handtick_board.one_shot import PRESS_US

#: A contact that opens for longer than this has been let go, and not bounced, in microseconds.
APART_US = 60_000

#: No hand presses for less than this, in microseconds: a group of closures that are all shorter is a spike.
SPIKE_US = 1000

#: How many times what was seen the recommended times are.
MARGIN = 2

#: Fewer presses than this say little about a button.
ENOUGH_PRESSES = 10

# What the board's settings take.
_PRESS_US = (PRESS_US, 50_000)
_REARM_US = (5000, 500_000)
_ROUNDED_TO_US = 1000


@dataclass(frozen=True, slots=True)
class Press:
    """One press, from its first closing to its last opening.

    Attributes:
        spans: its closures and the openings between them; the first and the last are closures.
    """

    spans: tuple[Span, ...]

    @property
    def start_us(self) -> int:
        """When it began."""
        return self.spans[0].start_us

    @property
    def end_us(self) -> int:
        """When it was over."""
        return self.spans[-1].end_us

    @property
    def held(self) -> Span:
        """Its longest closure: the finger's."""
        return max((span for span in self.spans if span.closed), key=lambda span: span.length_us)

    @property
    def press_bounce_us(self) -> int:
        """From its first closing until the contact stays closed."""
        return self.held.start_us - self.start_us

    @property
    def release_bounce_us(self) -> int:
        """From its first opening after that until the contact stays open."""
        return self.end_us - self.held.end_us

    @property
    def longest_gap_us(self) -> int:
        """The longest opening within it; 0 for none."""
        return max((span.length_us for span in self.spans if not span.closed), default=0)

    @property
    def is_spike(self) -> bool:
        """Whether it was too short for a hand."""
        return self.held.length_us < SPIKE_US


@dataclass(frozen=True, slots=True)
class Advice:
    """Times for a button.

    Attributes:
        press_us, rearm_us: what to set, in microseconds.
        longest_spike_us, longest_gap_us: what they are at least ``MARGIN`` times, in microseconds; 0 for none.
        warnings: what speaks against trusting them; empty for nothing.
    """

    press_us: int
    rearm_us: int
    longest_spike_us: int
    longest_gap_us: int
    warnings: tuple[str, ...]


def presses_of(train: Train, apart_us: int = APART_US) -> list[Press]:
    """The presses and spikes of a recording, in order.

    Args:
        train: the recording; a contact found closed belongs to a press that began before, and is left out.
        apart_us: openings at least this long are between presses, in microseconds.
    """
    spans = train.spans
    if spans and spans[0].closed:
        spans = spans[1:]
    groups: list[list[Span]] = []
    for span in spans:
        if span.closed:
            if groups and span.start_us - groups[-1][-1].end_us < apart_us:
                groups[-1] += [Span(groups[-1][-1].end_us, span.start_us, False), span]
            else:
                groups.append([span])
    return [Press(tuple(group)) for group in groups]


def advise(presses: Sequence[Press]) -> Advice:
    """Recommends press and re-arm times: ``MARGIN`` times the longest spike and the longest gap seen, rounded up.

    The press time is never below the default, and the re-arm time never below 5 ms.
    """
    real = [press for press in presses if not press.is_spike]
    spike_us = max((press.held.length_us for press in presses if press.is_spike), default=0)
    gap_us = max((press.longest_gap_us for press in real), default=0)
    wanted_press_us = max(_PRESS_US[0], -(-MARGIN * spike_us // PRESS_US) * PRESS_US)
    wanted_rearm_us = max(_REARM_US[0], -(-MARGIN * gap_us // _ROUNDED_TO_US) * _ROUNDED_TO_US)
    press_us, rearm_us = min(wanted_press_us, _PRESS_US[1]), min(wanted_rearm_us, _REARM_US[1])
    return Advice(press_us, rearm_us, spike_us, gap_us, tuple(_warnings(real, press_us, rearm_us)))


def _warnings(presses: Sequence[Press], press_us: int, rearm_us: int) -> list[str]:
    found = []
    if len(presses) < ENOUGH_PRESSES:
        found.append(f"{len(presses)} presses say little about a button; record {ENOUGH_PRESSES} at least")
    shortest_us = min((press.held.length_us for press in presses), default=None)
    if shortest_us is not None and shortest_us < MARGIN * press_us:
        found.append(
            f"the shortest press was made for {shortest_us} us only: the contact hardly stays, change the button"
        )
    apart_us = min((after.start_us - before.end_us for before, after in itertools.pairwise(presses)), default=None)
    if apart_us is not None and apart_us < rearm_us:
        found.append(f"two presses were {apart_us} us apart: with this re-arm time the second would be missed")
    return found
