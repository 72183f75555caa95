"""The command line: `handtick`. Commands send to a bench and draw what a session hears; they hold no logic."""

from __future__ import annotations

import os
import sys

from handtick import __version__
from handtick.errors import HandtickError

#: Exit status where the user interrupts something that has no end of its own to report, as shells have it.
INTERRUPTED = 130


def main() -> None:
    """Runs the command line; a mistake of the user's ends in one line and an exit status, never a traceback."""
    if sys.argv[1:] == ["--version"]:
        print(f"handtick {__version__}")
        return
    from handtick.cli.app import only_named
    from handtick.cli.options import hoisted

    try:
        line = hoisted(sys.argv[1:])
        status = only_named(line)(args=line, prog_name="handtick", standalone_mode=False)
        sys.stdout.flush()
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
    except Exception as error:
        # The parser's own errors have no base class that all its versions share, but all know how to say themselves.
        if not hasattr(error, "format_message"):
            raise
        words = " ".join(error.format_message().split()).rstrip(".")
        print(f"handtick: {words}; see: handtick {_asked(error)}--help", file=sys.stderr)
        status = 2
    sys.exit(status or 0)


def _asked(error: Exception) -> str:
    """The command that was wrongly given, with a space after it; empty where it is not known."""
    path = getattr(getattr(error, "ctx", None), "command_path", "")
    name = str(path).removeprefix("handtick").strip()
    return f"{name} " if name else ""
