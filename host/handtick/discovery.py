"""Finds boards by asking each port who it is. Nothing else is ever sent to a port that has not said it is a board."""

import contextlib
import time
from typing import NamedTuple

from handtick.errors import HandtickError, NoBoard, UsageError
from handtick.events import Greeting
from handtick.fresh import fresh_number
from handtick.links.base import Link
from handtick.session import Session
from handtick_board.pin_map import MOST_CHIPS
from handtick_wire.messages import read_number

# A board answers a greeting at once; a port that has not by then is somebody else's.
_ASKING_S = 0.6


class Found(NamedTuple):
    """One port and what is at it.

    Attributes:
        port: its name, as ``--board`` takes it.
        what: what the system says it is.
        greeting: the board's greeting; None where no board answers.
        trouble: why it could not be asked; empty where it could.
    """

    port: str
    what: str
    greeting: Greeting | None = None
    trouble: str = ""


def candidates() -> list[tuple[str, str]]:
    """Ports that could have a board at them, each with what the system says of it; a served virtual board last."""
    from serial.tools import list_ports

    from handtick.virtual.state import served_port

    ports = [
        (port.device, port.description or "serial port")
        for port in sorted(list_ports.comports())
        # Ports without a USB id are the computer's own; a board is always on USB.
        if port.vid is not None
    ]
    virtual = served_port()
    return [*ports, (virtual, "virtual board")] if virtual is not None else ports


def ask_all() -> list[Found]:
    """Asks every candidate who it is."""
    return [_ask(port, what) for port, what in candidates()]


def link_to(board: str | None, paced: bool = False) -> Link:
    """Opens the link to a board.

    Args:
        board: a port, ``socket://host:port``, ``virtual``, ``virtual:FAULT`` or ``virtual:FAULT@SEED`` for one with a
            fault, ``virtual:chain:CHIPS`` for one with shift registers, both of which live as long as the link, or None
            for the one board there is.
        paced: whether a virtual board that lives as long as the link keeps to the wall clock, for people who watch.

    Raises:
        NoBoard: there is none, or it can't be opened.
        UsageError: there are several and none was named.
    """
    if board == "virtual":
        return _virtual_link(paced)
    if board is not None and board.startswith("virtual:"):
        return _other_link(board, paced)
    from handtick.links.serial_port import SerialLink

    if board is not None:
        if not board.strip():
            raise UsageError("--board is empty; give a port, socket://host:port or virtual")
        return SerialLink(board)
    found = ask_all()
    boards = [each for each in found if each.greeting is not None]
    if len(boards) == 1:
        return SerialLink(boards[0].port)
    if boards:
        names = ", ".join(each.port for each in boards)
        raise UsageError(f"there are {len(boards)} boards: {names}; say which with --board")
    busy = [each for each in found if each.trouble]
    if busy:
        raise NoBoard(f"no board answers; {busy[0].trouble}")
    raise NoBoard(
        "no board found; plug one in, or try the built-in one with --board virtual, or serve that: handtick virtual"
    )


def _virtual_link(paced: bool) -> Link:
    """The served virtual board; where none is served, one that lives as long as this command."""
    from handtick.virtual.state import next_boot, served_port

    port = served_port()
    if port is not None:
        from handtick.links.serial_port import SerialLink

        return SerialLink(port)
    from handtick.links.virtual import VirtualLink
    from handtick.virtual.larch_board import larch_board

    return VirtualLink(larch_board(boot=next_boot()), paced)


def _other_link(board: str, paced: bool) -> Link:
    """A virtual board with a fault or with a chain of shift registers, as long as this command."""
    from handtick.links.virtual import VirtualLink
    from handtick.virtual.larch_board import larch_board
    from handtick.virtual.state import next_boot

    what = board.removeprefix("virtual:")
    if what.startswith("chain:"):
        return VirtualLink(larch_board(chips=chips_of(what.removeprefix("chain:"), board), boot=next_boot()), paced)
    fault, at, seed = what.partition("@")
    number = read_number(seed) if at else 1
    if number is None:
        raise UsageError(f"--board {board}: a seed is a whole number, such as virtual:{fault}@7")
    # Made before a boot number is used up, so that a fault that is none costs none.
    larch_board(fault=fault)
    return VirtualLink(larch_board(fault=fault, seed=number, boot=next_boot()), paced)


def chips_of(text: str, whole: str) -> int:
    """How many chips are on a chain; ``whole`` is what the user wrote.

    Raises:
        UsageError: so many can't be.
    """
    chips = read_number(text)
    if chips is None or not 1 <= chips <= MOST_CHIPS:
        raise UsageError(f"{whole}: a chain has 1 to {MOST_CHIPS} chips")
    return chips


def _ask(port: str, what: str) -> Found:
    from handtick.links.serial_port import SerialLink

    try:
        link = SerialLink(port)
    except NoBoard as error:
        return Found(port, what, trouble=str(error))
    try:
        return Found(port, what, _who(link))
    except HandtickError:
        return Found(port, what)
    finally:
        with contextlib.suppress(HandtickError):
            link.close()


def _who(link: Link) -> Greeting | None:
    """Asks who is there; nothing that waits on the board is taken from whoever comes to log it."""
    session = Session(0, first_id=1 + fresh_number(31))
    # The empty line ends whatever half-typed line there may be.
    link.write(b"\n" + session.command("who")[1])
    until = time.monotonic() + _ASKING_S
    while (left_s := until - time.monotonic()) > 0:
        for event in session.receive(link.read(left_s)):
            if isinstance(event, Greeting):
                return event
    return None
