"""The firmware under CPython, on the pins of this computer, through Blinka: for a Raspberry Pi and its like.

It is the software clock engine with the loop's own time: there is no PIO, the tick button is polled, and the operating
system may keep the loop waiting for milliseconds. No phase is shorter than asked, and every tick is counted; how much
longer a phase is, nobody promises.
"""

from __future__ import annotations

import time
import tomllib
import uuid
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from handtick.errors import NoBoard, UsageError
from handtick.virtual.pins import Port
from handtick.virtual.state import next_boot
from handtick_board import pin_map
from handtick_board.board import Board
from handtick_board.chain import CHIP_BITS
from handtick_board.choices import read_settings
from handtick_board.rim import Identity, Rim
from handtick_board.settings import Settings
from handtick_board.us_time import wrapped

# A press shorter than the loop's own pace may pass unseen.
_PRESS_GRAIN_US = 1000
_PASS_US = 200


class PinsBoard:
    """A board made of this computer's pins.

    Args:
        chosen: the settings, as the board's ``settings.toml`` has them.

    Raises:
        NoBoard: Blinka is not installed, or does not know this computer.
        UsageError: a setting or the pin map can't be.

    Attributes:
        port: its port, for whoever serves it.
        board: the firmware's board.
    """

    def __init__(self, chosen: Mapping[str, Any]) -> None:
        settings, refused = read_settings(chosen.get)
        if refused:
            name, why = refused[0]
            raise UsageError(f"setting {name} = {chosen.get(name)!r}: {why.replace('-', ' ')}")
        settings.press_grain_us, settings.clock_grain_us = _PRESS_GRAIN_US, 1
        names = _board_module()
        roles, probes = pin_map.own_profile(chosen.get)
        for fault in pin_map.complaints(roles, probes, dir(names), hasattr(names, "GP0")):
            raise UsageError(f"pins: {fault}; this computer has {_shown_pins(names)}")
        self.port = Port()
        self._began_ns = time.monotonic_ns()
        rim = _rim(settings, roles, tuple(getattr(names, name) for name in probes), names, self.port, self._board_us)
        identity = Identity(
            names.board_id.lower().replace(" ", "-"), f"{uuid.getnode():012x}", next_boot("pins"), "start"
        )
        self.board = Board(rim, settings, identity)

    @property
    def now_us(self) -> int:
        """Microseconds since it was made."""
        return (time.monotonic_ns() - self._began_ns) // 1000

    def run_until(self, time_us: int) -> None:
        """One pass of the firmware's loop; time passes by itself."""
        self.board.poll()

    def due_us(self) -> int | None:
        """When the loop should come by again: at once, for the tick button is polled."""
        return self.now_us

    def come_to_rest(self) -> None:
        """Ends the tick in hand and rests the line."""
        self.board.come_to_rest()

    def _board_us(self) -> int:
        return wrapped(self.now_us)


def read_settings_file(path: Path) -> dict[str, Any]:
    """The settings of a file.

    Raises:
        UsageError: it can't be read.
    """
    try:
        return tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise UsageError(f"settings {str(path)!r}: {(error.strerror or 'can not be read').lower()}") from error
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as error:
        raise UsageError(f"settings {str(path)!r}: {error}") from error


def _board_module() -> Any:
    try:
        import board
    except ImportError as error:
        raise NoBoard("the pins of this computer need Blinka: pip install 'handtick[pins]'") from error
    except (NotImplementedError, RuntimeError) as error:
        raise NoBoard(f"Blinka does not know this computer's pins: {error}") from error
    return board


def _shown_pins(names: Any) -> str:
    pins = sorted(name for name in dir(names) if name[:1] == "D" and name[1:2].isdigit())
    return ", ".join(pins[:40]) or "no pins that are called D0 and so on"


def _rim(
    settings: Settings, roles: dict[str, str], probes: tuple[Any, ...], names: Any, port: Port, now_us: Any
) -> Rim:
    from handtick_board.pins import Input, NoContact, Nothing, Output, PolledContact, ProbesOneByOne, with_chain

    def output(role: str, level: bool, inverted: bool) -> Any:
        return Output(getattr(names, roles[role]), level, inverted) if role in roles else Nothing()

    reader: Any = ProbesOneByOne(probes, settings.probe_pull) if probes else Nothing()
    chained = 0
    if pin_map.CHAIN_ROLES[0] in roles:
        pins = [getattr(names, roles[role]) for role in pin_map.CHAIN_ROLES]
        reader, chained = with_chain(reader, len(probes), pins, settings.chain), settings.chain * CHIP_BITS
    halt = Input(getattr(names, roles["halt"]), settings.halt_low) if "halt" in roles else Nothing()
    return Rim(
        output("clock", settings.rest_high, settings.inverting),
        output("reset", False, not settings.reset_high),
        halt,
        reader,
        PolledContact(getattr(names, roles["tick_button"])) if "tick_button" in roles else NoContact(),
        port,
        now_us,
        len(probes) + chained,
        _PASS_US,
        chained=chained,
    )
