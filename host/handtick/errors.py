"""What handtick raises when something outside it goes wrong, and the exit status each gives the command line.

    HandtickError            1   the base: catch this one at the edge
    ├── UsageError           2   asked for something that has no meaning
    ├── NoBoard              3   no board answers
    ├── Refused              4   the board or the wiring file says no
    ├── LinkLost             5   the board was there and is gone
    ├── StoppedEarly         6   the clock stopped before what was asked was done
    │   └── NotHeld          6   all ticks were made, and the stop rule held at none
    ├── LogError             7   the tick log cannot be opened, read or written
    ├── StartDiffers         8   a run could not be repeated: its start was not the same
    └── Differs              9   the machine did something else than it should have

A message is one line: what happened, the value, what to do next. A slip in our own code is not one of these: it stays
a `ValueError`, a `TypeError` or whatever Python makes of it.
"""

from __future__ import annotations

from typing import ClassVar

__all__ = [
    "Differs",
    "HandtickError",
    "LinkLost",
    "LogError",
    "NoBoard",
    "NotHeld",
    "Refused",
    "StartDiffers",
    "StoppedEarly",
    "UsageError",
]


class HandtickError(Exception):
    """Anything that goes wrong outside handtick's own code.

    Attributes:
        exit_status: What the command line ends with when nobody catches this.
    """

    exit_status: ClassVar[int] = 1


class UsageError(HandtickError):
    """A command, an option or a file says something that has no meaning."""

    exit_status = 2


class NoBoard(HandtickError):  # noqa: N818 - reads as what happened
    """No board answers where one was looked for."""

    exit_status = 3


class Refused(HandtickError):  # noqa: N818
    """The board understood, and will not do it; or the wiring file forbids it."""

    exit_status = 4


class LinkLost(HandtickError):  # noqa: N818
    """The board answered before and no longer does."""

    exit_status = 5


class StoppedEarly(HandtickError):  # noqa: N818
    """The clock stopped before all that was asked for had been done.

    Attributes:
        why: the board's word for it, one of ``handtick_wire.reasons``; empty where it was not the board.
    """

    exit_status = 6

    def __init__(self, message: str, why: str = "") -> None:
        super().__init__(message)
        self.why = why


class NotHeld(StoppedEarly):
    """All ticks were made, and the stop rule held at none of them."""


class StartDiffers(HandtickError):  # noqa: N818
    """A run could not be repeated: its start was not the same."""

    exit_status = 8


class Differs(HandtickError):  # noqa: N818
    """The machine did something else than it should have, or than it did before; what, was said."""

    exit_status = 9


class LogError(HandtickError):
    """The tick log cannot be opened, read or written."""

    exit_status = 7
