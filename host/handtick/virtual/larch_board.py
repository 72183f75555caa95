"""The virtual board with Larch wired to it, healthy or not."""

from __future__ import annotations

from handtick.virtual.board import VirtualBoard
from handtick.virtual.faults import FaultyLarch, faulty_larch
from handtick.virtual.hand import Hand
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import LONG_TALLY, RAIN_TALLY

#: Larch's programs by name.
PROGRAMS = {"rain-tally": RAIN_TALLY, "long-tally": LONG_TALLY}


def larch_board(program: bytes = RAIN_TALLY, fault: str | None = None, seed: int = 1, boot: int = 1) -> VirtualBoard:
    """A board with Larch.

    Args:
        program: Larch's program.
        fault: what is wrong with it, as ``faults.KINDS`` writes it; None for nothing.
        seed: chooses what faults by chance hit.
        boot: boot number.

    Raises:
        UsageError: there is no such fault.
    """
    larch = Larch(program) if fault is None else faulty_larch(program, fault, seed)
    board = VirtualBoard(larch, boot=boot)
    board.hand = Hand(board, seed=seed).press
    if isinstance(larch, FaultyLarch):
        larch.now_us = lambda: int(board.moment_us)
    return board
