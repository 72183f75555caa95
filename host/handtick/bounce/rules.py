"""Three rules that make ticks of a bouncing contact, for judging one recording by each of them.

- **Plain lockout**: a tick at the contact's first closing; for the lockout time after it no closing makes another.
- **Wait until stable**: the contact counts as closed or open once it has been so for the time without a break; a tick
  where it comes to count as closed.
- **Ours**: the firmware's own one-shot: a tick after the press time of contact, ready again after the re-arm time of
  open contact.
"""

from __future__ import annotations

import itertools

from handtick.bounce.train import Train
from handtick_board.one_shot import PRESS_US, REARM_US, OneShot
from handtick_board.us_time import wrapped

#: Lockout and stable time where nobody says, in microseconds: the re-arm time, so that the three can be compared.
LOCKOUT_US = REARM_US

#: The three by name, each with the times of its ticks in microseconds.
Judged = dict[str, list[int]]

PLAIN, STABLE, OURS = "plain lockout", "wait until stable", "press and re-arm"


def judge(train: Train, press_us: int = PRESS_US, rearm_us: int = REARM_US, lockout_us: int = LOCKOUT_US) -> Judged:
    """What each rule would have done.

    Args:
        train: the recording.
        press_us, rearm_us: of our rule, in microseconds, 1 or more.
        lockout_us: of the two others, likewise.
    """
    return {
        PLAIN: plain_lockout(train, lockout_us),
        STABLE: wait_until_stable(train, lockout_us),
        OURS: press_and_rearm(train, press_us, rearm_us),
    }


def plain_lockout(train: Train, lockout_us: int) -> list[int]:
    """Times of the ticks a plain lockout makes, in microseconds."""
    ticks: list[int] = []
    for before, after in itertools.pairwise(train.edges):
        at_us, closed = after
        if closed and not before[1] and (not ticks or at_us - ticks[-1] >= lockout_us):
            ticks.append(at_us)
    return ticks


def wait_until_stable(train: Train, stable_us: int) -> list[int]:
    """Times of the ticks made by waiting until the contact is stable, in microseconds."""
    ticks: list[int] = []
    accepted = train.edges[0][1]
    for span in train.spans:
        if span.closed != accepted and span.length_us >= stable_us:
            accepted = span.closed
            if accepted:
                ticks.append(span.start_us + stable_us)
    return ticks


def press_and_rearm(train: Train, press_us: int, rearm_us: int) -> list[int]:
    """Times of the ticks the firmware's one-shot makes, in microseconds."""
    one_shot = OneShot(press_us, rearm_us)
    ticks: list[int] = []
    for span in train.spans:
        one_shot.edge(wrapped(span.start_us), span.closed)
        # Whatever it decides within a span it decides once, this long after the edge.
        decides_us = span.start_us + (press_us if span.closed else rearm_us)
        if decides_us <= span.end_us and one_shot.poll(wrapped(decides_us)):
            ticks.append(decides_us)
    return ticks
