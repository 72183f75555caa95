"""The command line: `handtick`. Commands send to a bench and draw what a session hears; they hold no logic."""

from __future__ import annotations

import gc
import os
import sys

from handtick import __version__
from handtick.errors import HandtickError

#: Exit status where the user interrupts something that has no end of its own to report, as shells have it.
INTERRUPTED = 130


def main() -> None:
    """Runs the command line; a mistake of the user's ends in one line and an exit status, never a traceback."""
    try:
        status = carry_out(sys.argv[1:])
    except HandtickError as error:
        print(f"handtick: {error}", file=sys.stderr)
        status = error.exit_status
    except KeyboardInterrupt:
        print("handtick: interrupted", file=sys.stderr)
        status = INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has had enough of it; what is still in the buffer has nowhere to go.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        status = 1
    finally:
        # The system takes all memory back in a moment; Python need not look through it for rubbish before.
        gc.freeze()
    sys.exit(status)


def carry_out(words: list[str]) -> int:
    """Reads the words of a command line and does what they say; returns the exit status.

    Raises:
        HandtickError: what they say has no meaning, or was not to be done.
        SystemExit: help or the version was asked for, and has been printed.
    """
    if words == ["--version"]:
        print(f"handtick {__version__}")
        return 0
    from handtick.cli.app import make_parser
    from handtick.cli.common import Common

    if "_ARGCOMPLETE" in os.environ:
        from handtick.cli.completion import complete

        complete(make_parser())
    try:
        given = make_parser(words).parse_args(words)
        if given.act is None:
            given.parser.print_help()
            return 2
        given.act(Common.of(given), given)
        return 0
    finally:
        # Here, and not when the interpreter ends, is it noticed that nobody reads the output.
        sys.stdout.flush()
