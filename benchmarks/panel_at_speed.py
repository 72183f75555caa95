"""The panel beside five thousand ticks a second: is the log whole, and how soon are keys answered?

Usage: ``python benchmarks/panel_at_speed.py [SECONDS]``. A virtual board in a process of its own makes the ticks, as a
board would; the panel, its session and its log run in this one. Prints figures; asserts only that no tick is missing.
"""

from __future__ import annotations

import asyncio
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from handtick.links.serial_port import SerialLink
from handtick.log import LogReader
from handtick.opening import open_link
from handtick.panel.app import Panel
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.rain_tally import LONG_TALLY
from handtick.virtual.server import Serving
from handtick.wiring import load_wiring
from handtick_board.settings import Settings

RATE_HZ = 5000
WIRING = Path(__file__).parents[1] / "examples" / "larch.toml"


def serve() -> None:
    """The board's process: says its port and serves until it is ended."""
    settings = Settings()
    settings.top_rate_mhz = RATE_HZ * 1000
    serving = Serving(VirtualBoard(Larch(LONG_TALLY), settings, port_room=65536))
    print(serving.port, flush=True)
    serving.run()


async def live(panel: Panel, seconds: float) -> dict[str, float]:
    """Runs the clock, presses a key every second, then the key that rests it; gives the figures."""
    async with panel.run_test(size=(80, 24)):
        state = panel.state
        while state.lost:
            await asyncio.sleep(0.01)
        state.rate = str(RATE_HZ)
        panel.simulate_key("enter")
        while state.tick < 10:
            await asyncio.sleep(0.01)
        began, first, drawn, waits = time.monotonic(), state.tick, panel.redraws, []
        while time.monotonic() - began < seconds:
            await asyncio.sleep(1.0)
            pressed, shown = time.monotonic(), panel.query_one("#help").has_class("shown")
            panel.simulate_key("f1")
            while panel.query_one("#help").has_class("shown") == shown:
                await asyncio.sleep(0.001)
            waits.append(1000 * (time.monotonic() - pressed))
        took = time.monotonic() - began
        figures = {"ticks a second": (state.tick - first) / took, "redraws a second": (panel.redraws - drawn) / took}
        pressed = time.monotonic()
        panel.simulate_key("enter")
        while state.mode != "rest":
            await asyncio.sleep(0.001)
        figures["slowest key (ms)"] = max(waits)
        figures["key to clock at rest (ms)"] = 1000 * (time.monotonic() - pressed)
        return figures


def main(seconds: float) -> None:
    """Measures and prints."""
    with (
        tempfile.TemporaryDirectory() as folder,
        subprocess.Popen([sys.executable, __file__, "serve"], stdout=subprocess.PIPE, text=True) as server,
    ):
        try:
            assert server.stdout is not None
            port, log, wiring = server.stdout.readline().strip(), Path(folder) / "log.sqlite3", load_wiring(WIRING)
            panel = Panel(wiring, lambda: open_link(SerialLink(port), log, wiring))
            for name, value in asyncio.run(live(panel, seconds)).items():
                print(f"{name:>26}  {value:.1f}")
            with LogReader.open(log) as reader:
                ticks = [tick.tick for tick in reader.all_ticks()]
            assert ticks == list(range(1, len(ticks) + 1)), "a tick is missing from the log"
            print(f"{'ticks in the log':>26}  {len(ticks)}, none missing")
        finally:
            server.terminate()


if __name__ == "__main__":
    if sys.argv[1:] == ["serve"]:
        serve()
    else:
        main(float(sys.argv[1]) if len(sys.argv) > 1 else 60.0)
