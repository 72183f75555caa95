"""`handtick panel`: the window for an evening at the bench."""

from __future__ import annotations

import sys

from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.errors import HandtickError, UsageError


def panel(common: Common) -> None:
    """Opens the panel."""
    if common.json or common.quiet:
        raise UsageError("the panel is for people; --json and --quiet do not go with it")
    wiring = common.find_wiring()
    if not sys.stdout.isatty():
        raise UsageError("the panel needs a terminal; in a script use step, run and to")
    try:
        from handtick.panel.app import Panel
    except ImportError as error:
        raise HandtickError("the panel needs textual; run: pip install 'handtick[panel]'") from error
    from handtick.discovery import link_to
    from handtick.opening import open_link

    def open_bench() -> Bench:
        return open_link(link_to(common.board, paced=True), common.log_path, wiring)

    # What can't be mended by waiting is said before the window opens.
    open_bench().close()
    window = Panel(wiring, open_bench)
    window.run()
    if window.driver.failed is not None:
        raise window.driver.failed
