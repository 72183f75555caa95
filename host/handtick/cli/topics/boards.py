"""Commands that wire, install and serve boards."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.parser import Parser
from handtick.cli.topics.topic import Topic

TOPIC = Topic("Boards and their wiring")


@TOPIC.command("wire")
def wire(common: Common, given: Namespace) -> None:
    """Be led through the first wiring: finds each wire's probe, writes the wiring file, proves reset and halt."""
    from handtick.cli import wire as wiring

    wiring.wire(common)


def _install_arguments(parser: Parser) -> None:
    parser.add_argument(
        "--to", metavar="FOLDER", type=Path, help="A drive or folder. Without it, the one drive there is."
    )
    parser.add_argument("--check", action="store_true", help="Only say what is not as it should be.")
    parser.add_argument(
        "--compiler", metavar="FILE", type=Path, help="CircuitPython's mpy-cross, to install compiled modules."
    )


@TOPIC.command("install", _install_arguments)
def install(common: Common, given: Namespace) -> None:
    """Put the firmware on a board's drive; cut off half-way, it can be run again."""
    from handtick.cli import installing

    installing.install_firmware(common, given.to, given.check, given.compiler)


def _pins_arguments(parser: Parser) -> None:
    parser.add_argument("profile", metavar="PROFILE", nargs="?", help="full, counter, tug, chain or minimal.")


@TOPIC.command("pins", _pins_arguments)
def pins(common: Common, given: Namespace) -> None:
    """Say which pin of the board does what, and which probe carries which name."""
    from handtick.cli import look

    look.pins(common, given.profile)


def _virtual_arguments(parser: Parser) -> None:
    parser.add_argument("--tcp", metavar="PORT", help="Serve a TCP port too; 0: any.")
    parser.add_argument(
        "--program", metavar="NAME", default="rain-tally", help="Larch's program: rain-tally or long-tally."
    )
    parser.add_argument("--fault", metavar="FAULT", help="What is wrong with Larch, such as stuck:3=1.")
    parser.add_argument("--seed", metavar="N", default="1", help="Chooses what faults by chance hit.")
    parser.add_argument("--chain", metavar="CHIPS", help="Shift registers on Larch's registers: probes 16 and up.")


@TOPIC.command("virtual", _virtual_arguments)
def virtual(common: Common, given: Namespace) -> None:
    """Serve the built-in virtual board, with Larch wired to it, as a port of this machine, until Ctrl-C."""
    from handtick.cli import serve

    serve.serve(common, given.tcp, given.program, given.fault, given.seed, given.chain)


def _serve_pins_arguments(parser: Parser) -> None:
    parser.add_argument(
        "--settings",
        metavar="FILE",
        type=Path,
        default=Path("settings.toml"),
        help="The settings, as a board has them in settings.toml.",
    )
    parser.add_argument("--tcp", metavar="PORT", help="Serve a TCP port of this machine too; 0 for any.")


@TOPIC.command("serve-pins", _serve_pins_arguments)
def serve_pins(common: Common, given: Namespace) -> None:
    """Make this computer's own pins a board, where Blinka knows them: a Raspberry Pi and its like."""
    from handtick.cli import serve

    serve.serve_pins(common, given.settings, given.tcp)
