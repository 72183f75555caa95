"""The virtual board with Larch wired to it, healthy or not."""

from __future__ import annotations

from handtick.virtual.board import VirtualBoard
from handtick.virtual.chain_chips import ChainOfChips
from handtick.virtual.hand import Hand
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import LONG_TALLY, RAIN_TALLY
from handtick_board.settings import Settings

#: Larch's programs by name.
PROGRAMS = {"rain-tally": RAIN_TALLY, "long-tally": LONG_TALLY}


def larch_board(
    program: bytes = RAIN_TALLY, fault: str | None = None, seed: int = 1, boot: int = 1, chips: int = 0
) -> VirtualBoard:
    """A board with Larch.

    Args:
        program: Larch's program.
        fault: what is wrong with it, as ``faults.KINDS`` writes it; None for nothing.
        seed: chooses what faults by chance hit.
        boot: boot number.
        chips: how many shift registers are on Larch's own registers (see ``Larch.registers``), 0 to 5; with any, their
            inputs are probes 16 and up.

    Raises:
        UsageError: there is no such fault.
    """
    faulty = None
    if fault is not None:
        from handtick.virtual.faults import faulty_larch

        faulty = faulty_larch(program, fault, seed)
    larch = faulty or Larch(program)
    settings = Settings()
    settings.chain = chips
    board = VirtualBoard(larch, settings, boot, chain=ChainOfChips(chips, larch.registers) if chips else None)
    board.hand = Hand(board, seed=seed).press
    if faulty is not None:
        faulty.now_us = lambda: int(board.moment_us)
    return board
