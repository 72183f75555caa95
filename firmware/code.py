"""handtick's firmware. Everything is in lib/; what may be changed is in settings.toml."""

import supervisor

# A file written to the drive must not restart the board in the middle of a run.
supervisor.runtime.autoreload = False

from handtick_board import start  # noqa: E402

start.run()
