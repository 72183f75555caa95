"""Nothing is lost in silence and nothing is invented, however bad the cable."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.host.soak import Soak

LONG = bool(os.environ.get("HANDTICK_LONG"))
SEEDS = range(10) if LONG else range(3)
BOOTS, TICKS, FAULTS = (10, 10_000, 120) if LONG else (3, 4000, 120)
KINDS = {
    *("lost", "changed", "repeated", "held back", "torn off", "stalled", "unplugged"),
    *("program ended", "program killed", "reset unheard"),
}


@pytest.mark.fault(
    "link",
    "bytes lost, changed, repeated, held back or torn off, both ways, and the cable pulled, all evening long; programs "
    "ended and killed, and others that go on with the log; resets while no program listens",
    "the ticks that arrived, with their samples; the numbers of those that did not, or how many, where more than one "
    "reset was not heard of; the bytes that were no line, kept",
)
@pytest.mark.parametrize("seed", SEEDS)
def test_ticks_logged_and_told_missing_are_the_ticks_made(seed: int, tmp_path: Path) -> None:
    """Bytes are lost, changed, repeated, held back and torn off, both ways, the cable is pulled, programs end or are
    killed and others go on with their log, and the machine is reset meanwhile: every tick made is in the log with its
    samples, or told to be missing, once, in its own start of the board and its own reset; and the log adds up."""
    account = Soak(tmp_path / "log.sqlite3", seed).run(BOOTS, TICKS, FAULTS)
    print(account)
    assert account.wrong == []
    assert account.made == account.logged + account.missing + account.unplaced >= BOOTS * TICKS
    # Much is made while nobody listens; an account of gaps alone would show little.
    assert account.logged > account.made // 3
    assert set(account.faults) >= KINDS
    assert account.faults.total() >= BOOTS * FAULTS
