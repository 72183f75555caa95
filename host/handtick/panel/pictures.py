"""Makes the pictures of the panel that the documentation shows, from the panel itself.

Usage: ``python -m handtick.panel.pictures FOLDER``
"""

from __future__ import annotations

import asyncio
import re
import sys
import tempfile
from collections.abc import Awaitable, Callable
from pathlib import Path

from textual.pilot import Pilot

from handtick.errors import NoBoard
from handtick.links.virtual import VirtualLink
from handtick.opening import open_link
from handtick.panel.app import Panel
from handtick.virtual.larch_board import PROGRAMS, larch_board
from handtick.wiring import load_wiring

_Story = Callable[[Pilot[None]], Awaitable[None]]


async def _stepped(pilot: Pilot[None]) -> None:
    await pilot.press(*["space"] * 12)


async def _running(pilot: Pilot[None]) -> None:
    await pilot.press("+", "=", *"data == 0xF5 and tick > 20", "enter", "enter")
    await pilot.pause(0.8)


async def _asked_for_help(pilot: Pilot[None]) -> None:
    await pilot.press("space", "space", "f1")


async def _alone(pilot: Pilot[None]) -> None:
    await pilot.pause(0.1)


#: Name of each picture, what happens before it is taken, and whether there is a board.
STATES: dict[str, tuple[_Story, bool]] = {
    "panel-stepped": (_stepped, True),
    "panel-running": (_running, True),
    "panel-help": (_asked_for_help, True),
    "panel-no-board": (_alone, False),
}


def take(story: _Story, plugged: bool, wiring_file: Path, size: tuple[int, int] = (80, 24)) -> str:
    """The panel as SVG after a story."""
    wiring = load_wiring(wiring_file)
    board = larch_board(PROGRAMS["long-tally"])
    with tempfile.TemporaryDirectory() as folder:

        def open_bench():  # type: ignore[no-untyped-def]
            if not plugged:
                raise NoBoard("no board found; plug one in, or serve the built-in one: handtick virtual")
            return open_link(VirtualLink(board, paced=True), Path(folder) / "log.sqlite3", wiring)

        async def live() -> str:
            panel = Panel(wiring, open_bench)
            async with panel.run_test(size=size) as pilot:
                await pilot.pause(0.3)
                await story(pilot)
                await pilot.pause(0.3)
                return panel.export_screenshot()

        # The picture must not fetch its letters from elsewhere.
        return re.sub(r"@font-face \{.*?\}|<!--.*?-->", "", asyncio.run(live()), flags=re.DOTALL)


def main(arguments: list[str]) -> int:
    """Writes all pictures; returns the exit status."""
    folder = Path(arguments[0])
    for name, (story, plugged) in STATES.items():
        path = folder / f"{name}.svg"
        path.write_text(take(story, plugged, Path("examples/larch.toml")), encoding="utf-8")
        print(f"wrote {path}")
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
