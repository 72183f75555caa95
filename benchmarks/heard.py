"""What the benchmarks feed on: what the firmware's own loop, with Larch on its pins, tells its host."""

from __future__ import annotations

import contextlib
import functools
from collections.abc import Iterator
from pathlib import Path

from handtick.errors import StoppedEarly
from handtick.events import Event
from handtick.links.virtual import VirtualLink
from handtick.opening import open_link
from handtick.session import Session
from handtick.virtual.board import VirtualBoard
from handtick.virtual.larch import Larch
from handtick.virtual.larch_board import larch_board
from handtick.virtual.rain_tally import LONG_TALLY
from handtick.wiring import Wiring, load_wiring

EXAMPLES = Path(__file__).parents[1] / "examples"
WIRING = EXAMPLES / "larch.toml"
MILLION = 1_000_000
#: The rate of the bursts, in hertz: what the firmware traces without a break.
RATE = "100000"
SOFTWARE_RATE = "500"
_NONCE = 1
#: Bytes that a pseudo-terminal or a USB port hands over at a time.
_PIECE = 4096
#: No answer to a command is longer.
_ANSWER = 80


class SoftwareBoard(VirtualBoard):
    """A board without PIO: every tick is timed by the loop, and told as a line."""

    bursts = False


@functools.cache
def larch_wiring() -> Wiring:
    """The names of Larch's lines."""
    return load_wiring(WIRING)


def said(board: VirtualBoard, ticks: int) -> bytes:
    """Greets a board, has it make a burst of so many ticks, and gives all that it says."""
    link, session, heard = VirtualLink(board), Session(_NONCE), bytearray()
    commands: list[tuple[str, tuple[int | str, ...]]] = [("hello", (_NONCE,)), ("samples", ("all",))]
    if isinstance(board, SoftwareBoard):
        # It samples every tick in any case, and is not as fast.
        commands[1:] = [("burst", (ticks, SOFTWARE_RATE))]
    else:
        commands += [("burst", (ticks, RATE))]
    for command, values in commands:
        command_id, line = session.command(command, *values)
        link.write(line)
        while b" done id=%d " % command_id not in heard[-_ANSWER:]:
            heard += link.read(0.05)
    return bytes(heard)


@functools.cache
def tape(ticks: int, in_blocks: bool) -> tuple[bytes, ...]:
    """What a board with Larch says, in the pieces in which a port hands it over."""
    whole = said((VirtualBoard if in_blocks else SoftwareBoard)(Larch(LONG_TALLY)), ticks)
    return tuple(whole[at : at + _PIECE] for at in range(0, len(whole), _PIECE))


def events(ticks: int, in_blocks: bool) -> Iterator[Event]:
    """The same as a session tells it."""
    session = Session(_NONCE)
    for piece in tape(ticks, in_blocks):
        yield from session.receive(piece)


def fill(log: Path, ticks: int | None, fault: str | None = None, boot: int = 1, program: bytes = LONG_TALLY) -> None:
    """Logs a run of so many ticks, or until the machine halts, as a program at a bench would."""
    with open_link(VirtualLink(larch_board(program, fault, boot=boot)), log, larch_wiring()) as bench:
        bench.ask("samples", "all")
        if ticks is not None:
            bench.ask("burst", ticks, RATE, keep=False)
            return
        with contextlib.suppress(StoppedEarly):
            bench.ask("burst", MILLION, RATE, keep=False)
