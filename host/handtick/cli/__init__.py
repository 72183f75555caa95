"""The command line: `handtick`. Commands send to a bench and draw what a session hears; they hold no logic."""

from __future__ import annotations

import gc
import os
import sys

from handtick import __version__
from handtick.cli.output import let_go_of_output, prepare_output, reconfigure_output
from handtick.errors import HandtickError

#: Exit status where the user interrupts something that has no end of its own to report, as shells have it.
INTERRUPTED = 130


def main() -> None:
    """Runs the command line; a mistake of the user's ends in one line and an exit status, never a traceback."""
    try:
        prepare_output()
        status = carry_out(sys.argv[1:])
    except HandtickError as error:
        print(f"handtick: {error}", file=sys.stderr)
        status = error.exit_status
    except KeyboardInterrupt:
        print("handtick: interrupted", file=sys.stderr)
        status = INTERRUPTED
    except BrokenPipeError:
        # Whoever read our output has had enough of it.
        status = 1
    finally:
        # The system takes all memory back in a moment; Python need not look through it for rubbish before.
        gc.freeze()
    let_go_of_output()
    sys.exit(status)


def carry_out(words: list[str]) -> int:
    """Reads the words of a command line and does what they say; returns the exit status.

    Raises:
        HandtickError: what they say has no meaning, or was not to be done.
        SystemExit: help or the version was asked for, and has been printed.
    """
    if words == ["--version"]:
        print(f"handtick {__version__}", flush=True)
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
        if getattr(given, "json", False) and not sys.stdout.isatty():
            # JSON that programs read is UTF-8, whatever this system's text is.
            reconfigure_output(encoding="utf-8")
        given.act(Common.of(given), given)
        return 0
    finally:
        # Here, and not when the interpreter ends, is it noticed that the output can't be had, or that nobody reads it.
        sys.stdout.flush()
