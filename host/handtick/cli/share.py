"""`handtick share`: one clock for a whole class."""

from __future__ import annotations

import os
import re
import signal
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from handtick.bench import Bench
from handtick.cli.common import Common
from handtick.cli.printer import Printer
from handtick.errors import HandtickError, UsageError
from handtick.wiring import Wiring
from handtick_wire.messages import read_number

if TYPE_CHECKING:
    from handtick.classroom.broker import Broker
    from handtick.classroom.room import Room


def share(
    common: Common,
    network: bool,
    port: str,
    lesson: Path | None,
    replay: Path | None,
    gone: str,
    names: list[str],
    broker: str | None,
    broker_ca: str | None,
) -> None:
    """Serves the class until interrupted."""
    try:
        from handtick.classroom import serving
        from handtick.classroom.server import Server
    except ImportError as error:
        raise HandtickError(
            "sharing needs starlette, uvicorn and websockets; run: pip install 'handtick[share]'"
        ) from error
    from handtick.classroom.addresses import bound, own_addresses, own_names
    from handtick.classroom.feed import Feed
    from handtick.classroom.lesson import load_lesson
    from handtick.classroom.replay import Replay
    from handtick.classroom.room import Room
    from handtick.classroom.words import room_word, secret
    from handtick.live.driver import Driver

    tcp_port = read_number(port)
    if tcp_port is None or tcp_port > 65535:
        raise UsageError(f"--port {port}: a TCP port is a whole number from 0 to 65535")
    gone_s = read_number(gone)
    if gone_s is None or not 1 <= gone_s <= 3600:
        raise UsageError(f"--gone {gone}: give seconds from 1 to 3600")
    for name in names:
        if not re.fullmatch(r"[A-Za-z0-9.-]{1,253}", name):
            raise UsageError(f"--name {name[:40]}: a name of this machine has letters, digits, dots and hyphens")
    if broker_ca is not None and broker is None:
        raise UsageError(f"--broker-ca {broker_ca}: there is no --broker to trust")
    join_broker = None if broker is None else _broker_maker(broker, broker_ca, Printer(common.json, common.quiet))
    wiring = common.find_wiring()
    plan = None if lesson is None else load_lesson(lesson, wiring)
    feed = Feed()
    clock = Driver(feed, lambda: _open(common, wiring)) if replay is None else Replay(replay, feed)
    if replay is None:
        # What can't be mended by waiting is said before anybody joins.
        _open(common, wiring).close()
    try:
        listener = bound(network, tcp_port)
    except OSError as error:
        raise UsageError(
            f"--port {port}: {(error.strerror or 'not to be had').lower()}; choose another, or 0 for any"
        ) from error
    room = Room(wiring, clock, plan, replay is None, float(gone_s))
    word, teacher = room_word(), secret()
    title = plan.title if plan is not None else "handtick"
    elsewhere = None if join_broker is None else join_broker(room, word, title)
    server = Server(room, feed, word, teacher, [*own_names(), *names], title, elsewhere)
    where = listener.getsockname()[1]
    hosts = (own_addresses() or ["127.0.0.1"]) if network else ["127.0.0.1"]
    _say(Printer(common.json, common.quiet), [f"http://{host}:{where}/" for host in hosts], where, word, teacher)
    clock.start()
    # Asked to end, it tidies up as after Ctrl-C.
    signal.signal(signal.SIGTERM, signal.default_int_handler)
    try:
        serving.serve(server.app, listener, waits_on_files=elsewhere is not None)
    except KeyboardInterrupt:
        pass
    finally:
        clock.stop()
        listener.close()
    if server.failed is not None:
        raise server.failed
    if isinstance(clock, Driver) and clock.failed is not None:
        raise clock.failed


def _broker_maker(url: str, ca: str | None, printer: Printer) -> Callable[[Room, str, str], Broker]:
    """What makes the connection to a broker for a room, its word and its title; all that can be wrong is wrong here."""
    try:
        from handtick.classroom.broker import Broker, trust
    except ImportError as error:
        raise HandtickError("a broker needs aiomqtt; run: pip install 'handtick[share,broker]'") from error
    from handtick.classroom.broker_address import PASSWORD_VARIABLE, read_broker

    address = read_broker(url, os.environ.get(PASSWORD_VARIABLE))
    tls = trust(address, ca)
    return lambda room, word, title: Broker(address, tls, room, word, title, printer.warn)


def _open(common: Common, wiring: Wiring) -> Bench:
    from handtick.discovery import link_to
    from handtick.opening import open_link

    return open_link(link_to(common.board, paced=True), common.log_path, wiring)


def _say(printer: Printer, addresses: list[str], port: int, word: str, teacher: str) -> None:
    link = f"http://127.0.0.1:{port}/#teach={teacher}"
    printer.answer(
        f"the class      {'  or  '.join(addresses)}   room word  {word}\n"
        f"a projector    {addresses[0]}#watch\n"
        f"you alone      {link}\n"
        "Whoever has the last of these drives the clock; show it to nobody. Ctrl-C ends it.",
        kind="share",
        addresses=addresses,
        room_word=word,
        teacher=link,
    )
