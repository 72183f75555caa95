"""A drive whose installation was cut off, in the real CircuitPython: it starts, and says what it is."""

from __future__ import annotations

import random
from pathlib import Path

import pytest

from handtick.install import Folder, install, make_plan
from tests.emulated.conftest import image
from tests.emulated.emulated_board import EmulatedBoard
from tests.host.test_install import EARLIER, PLAN, SOMEBODYS, Counting, Cut, filled, whole_cost

pytestmark = pytest.mark.needs_image

#: What somebody else's program left that speaks for as long as anybody listens.
TALKING = {**SOMEBODYS, "code.py": b"import time\nwhile True:\n    print('mine')\n    time.sleep(0.5)\n"}
SAYS = ("handtick: ready", "handtick: the installation was cut off")


@pytest.mark.fault(
    "board",
    "a drive left incomplete, on the real runtime",
    "the console says so; no clock is made",
)
@pytest.mark.parametrize(("before", "share"), [(EARLIER, 0.4), (EARLIER, 0.97), (TALKING, 0.5), ({}, 1.0)])
def test_drive_that_was_cut_off_starts_and_says_so(before: dict[str, bytes], share: float, tmp_path: Path) -> None:
    """Wherever the cable was pulled, the board starts: with the old program, the new one, or a sentence."""
    path = image()
    (tmp_path / "whole").mkdir()
    (tmp_path / "cut").mkdir()
    cost = whole_cost(before, tmp_path / "whole")
    drive = filled(Folder(tmp_path / "cut"), before)
    budget = int(share * (cost - 1)) + random.Random(3).randrange(100)
    try:
        install(Counting(drive, budget if share < 1 else float("inf")), PLAN)
    except Cut:
        assert share < 1
    files = {
        str(each.relative_to(tmp_path / "cut")): each.read_bytes()
        for each in (tmp_path / "cut").rglob("*")
        if each.is_file()
    }
    board = EmulatedBoard(path, files)
    says = ("mine", *SAYS) if before is TALKING else SAYS
    board.run_until(lambda: any(each in board.console for each in says), 12)
    assert "Traceback" not in board.console
    if share == 1.0:
        assert SAYS[0] in board.console
    elif before is EARLIER:
        assert SAYS[1] in board.console
    assert make_plan().files == PLAN.files
