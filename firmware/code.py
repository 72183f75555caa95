"""handtick's firmware. Everything is in lib/; what may be changed is in settings.toml."""

import os
import time

import supervisor

while "handtick_incomplete.txt" in os.listdir("/"):
    # Nothing in lib/ can be relied on. The file goes away as the last step, and that starts this program again.
    print("handtick: the installation was cut off; no clock is made. Run: handtick install")
    time.sleep(2)

# A file written to the drive must not restart the board in the middle of a run.
supervisor.runtime.autoreload = False

from handtick_board import loop  # noqa: E402

loop.run()
