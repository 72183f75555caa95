"""Nothing is lost in silence and nothing is invented, however bad the cable."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from tests.host.soak import Soak

LONG = bool(os.environ.get("HANDTICK_LONG"))
SEEDS = range(10) if LONG else range(3)
TICKS, FAULTS = (100_000, 1000) if LONG else (10_000, 150)


@pytest.mark.fault(
    "link",
    "bytes lost, changed, repeated, held back or torn off, both ways, and the cable pulled, all evening long",
    "the ticks that arrived, with their samples; the numbers of those that did not; the bytes that were no line, kept",
)
@pytest.mark.parametrize("seed", SEEDS)
def test_ticks_logged_and_told_missing_are_the_ticks_made(seed: int, tmp_path: Path) -> None:
    """Bytes are lost, changed, repeated, held back and torn off, both ways, and the cable is pulled again and again:
    every tick made is in the log with its samples, or told to be missing, once; and the log adds up."""
    account = Soak(tmp_path / "log.sqlite3", seed).run(TICKS, FAULTS)
    print(account)
    assert account.adds_up, str(account)
    assert account.wrong == 0
    assert account.findings == []
    assert account.made >= TICKS
    assert sum(account.faults.values()) >= FAULTS
