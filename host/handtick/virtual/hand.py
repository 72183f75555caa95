"""A hand for the virtual bench: it presses the tick button when somebody asks to see the contact."""

from __future__ import annotations

from typing import TYPE_CHECKING

from handtick.virtual.board import VirtualBoard
from handtick_board.us_time import wrapped

if TYPE_CHECKING:
    from handtick.bounce.published import Pattern

#: How the virtual bench's button bounces, and how often its hand presses.
PATTERN = "average of 16 switches"
PRESSES = 40


class Hand:
    """Presses the button of a virtual board.

    Args:
        board: the board.
        pattern: how the contact bounces; None for ``PATTERN``.
        seed: chooses the presses.
    """

    def __init__(self, board: VirtualBoard, pattern: Pattern | None = None, seed: int = 1) -> None:
        self._board = board
        self._pattern = pattern
        self._seed = seed

    def press(self) -> None:
        """Presses ``PRESSES`` times from now on."""
        from handtick.bounce.published import make_train, pattern_named

        train = make_train(self._pattern or pattern_named(PATTERN), PRESSES, self._seed)
        from_us = self._board.now_us
        for at_us, closed in train.edges[1:]:
            time_us = from_us + at_us
            self._board.at(time_us, lambda t=time_us, c=closed: self._move(t, c))  # type: ignore[misc]

    def _move(self, time_us: int, closed: bool) -> None:
        # Whoever has seen enough is not pressed at any more; a contact that is made is let go.
        if self._board.board.tick_button.telling or not closed:
            self._board.contact.put(wrapped(time_us), closed)
