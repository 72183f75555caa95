"""The command line: `handtick`. Commands send to a bench and draw what a session hears; they hold no logic."""

from __future__ import annotations

import sys

from handtick.errors import HandtickError


def main() -> None:
    """Runs the command line; a mistake of the user's ends in one line and an exit status, never a traceback."""
    from handtick.cli.app import app

    try:
        app()
    except HandtickError as error:
        print(f"handtick: {error}", file=sys.stderr)
        sys.exit(error.exit_status)
    except BrokenPipeError:
        # Whoever read our output has had enough of it.
        sys.stderr.close()
        sys.exit(1)
