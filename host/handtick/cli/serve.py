"""`handtick virtual`: the built-in board as a port of this machine."""

from __future__ import annotations

import signal
from pathlib import Path

from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.discovery import chips_of
from handtick.errors import Refused, UsageError
from handtick.virtual.faults import faulty_larch
from handtick.virtual.larch_board import PROGRAMS, larch_board
from handtick.virtual.server import Serving
from handtick.virtual.state import next_boot, served_port, tell_port, untell_port
from handtick_wire.messages import read_number

# How long the loop of pins may rest: the tick button is polled.
_PINS_NAP_S = 0.0003


def serve(common: Common, tcp: str | None, program: str, fault: str | None, seed: str, chain: str | None) -> None:
    """Serves until interrupted."""
    tcp_port = _tcp_port(tcp)
    if program not in PROGRAMS:
        raise UsageError(f"--program {program}: Larch has {' and '.join(PROGRAMS)}")
    number = read_number(seed)
    if number is None:
        raise UsageError(f"--seed {seed}: a seed is a whole number")
    chips = 0 if chain is None else chips_of(chain, f"--chain {chain}")
    if fault is not None:
        # Refused before a boot number is used up.
        faulty_larch(PROGRAMS[program], fault, number)
    already = served_port()
    if already is not None:
        raise Refused(f"a virtual board is served at {already} already; stop that one first")
    board = larch_board(PROGRAMS[program], fault, number, next_boot(), chips)
    serving = Serving(board, tcp_port)
    printer = Printer(common.json, common.quiet)
    # Asked to end, it tidies up as after Ctrl-C.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        port = serving.port or serving.address
        if port is None:
            raise UsageError("this system has no pseudo-terminals; serve a TCP port: handtick virtual --tcp 0")
        tell_port(port)
        ways = " and ".join(way for way in (serving.port, serving.address) if way is not None)
        printer.answer(
            f"virtual board with Larch at {ways}; other commands on this machine find it by themselves. "
            "Ctrl-C ends it.",
            kind="virtual",
            port=serving.port,
            address=serving.address,
        )
        serving.run()
    except KeyboardInterrupt:
        printer.warn("the virtual board has stopped")
    finally:
        untell_port()
        serving.close()


def serve_pins(common: Common, settings: Path, tcp: str | None) -> None:
    """Serves this computer's pins until interrupted."""
    from handtick.pins_board import PinsBoard, read_settings_file

    tcp_port = _tcp_port(tcp)
    board = PinsBoard(read_settings_file(settings))
    serving = Serving(board, tcp_port)
    printer = Printer(common.json, common.quiet)
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    ways = [way for way in (serving.port, serving.address) if way is not None]
    try:
        if not ways:
            raise UsageError("this system has no pseudo-terminals; serve a TCP port: handtick serve-pins --tcp 0")
        text = f"this computer's pins are a board at {' and '.join(ways)}; use it with --board. Ctrl-C ends it."
        printer.answer(text, kind="pins", port=serving.port, address=serving.address)
        while True:
            serving.serve_once(_PINS_NAP_S)
    except KeyboardInterrupt:
        printer.warn("the clock rests, and the pins are let go")
    finally:
        board.come_to_rest()
        serving.close()


def _tcp_port(tcp: str | None) -> int | None:
    port = None if tcp is None else read_number(tcp)
    if tcp is not None and (port is None or port > 65535):
        raise UsageError(f"--tcp {tcp}: a TCP port is a whole number from 0 to 65535")
    return port
