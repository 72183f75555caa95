"""Sets the board up: reads settings and pins, and tells what it had to refuse."""

from __future__ import annotations

import gc
import os
import sys

import board
import microcontroller
import supervisor

from . import pin_map
from .board import Board
from .board_time import make_clock
from .chain import CHIP_BITS
from .choices import TOO_LITTLE_MEMORY, fitted, read_settings
from .hand_controls import HandControls
from .pins import Input, NoContact, Nothing, Output, PolledContact, ProbesAtOnce, ProbesOneByOne, Supply, with_chain
from .ready_maker import ready_maker
from .rim import Identity, Rim
from .settings import Settings
from .usb_port import NoPort, UsbPort

# A pass of the loop with a line written takes about this long on an RP2040; see the figures in the documentation.
PASS_US = 2000
# A look takes a tenth of a millisecond: so many are as long as a hand on a button never notices.
LOOKS = 64

# Registers of the RP2 chips: levels of all pins, and the pads.
_LEVELS = {"RP2040": 0xD0000004, "RP2350": 0xD0000004}
_PADS = {"RP2040": 0x4001C004, "RP2350": 0x40038004}


def set_up():
    """Makes the board as its settings and pins say; returns it, the hand's controls and what gives the board time."""
    settings, refused = read_settings(os.getenv)
    roles, probes = pins_of(settings, refused)
    now_us = make_clock(settings)
    rim = make_rim(settings, roles, probes, now_us, refused)
    who, asked_ring = identify(), settings.ring
    bench = fitted(settings, lambda: Board(rim, settings, who, refused))
    if settings.ring != asked_ring and os.getenv("HANDTICK_RING") is not None:
        refused.append(("HANDTICK_RING", TOO_LITTLE_MEMORY))
    for name, why in refused:
        print("handtick: refused:", name, why)
    hand = HandControls(
        bench,
        _button(roles.get("run_button")),
        _button(roles.get("reset_button")),
        _analogue(roles.get("knob")),
        _light(roles.get("light")),
        bool(refused),
    )
    return bench, hand, now_us


def pins_of(settings: Settings, refused: list[tuple[str, str]]) -> tuple[dict[str, str], tuple[str, ...]]:
    """The pin map of the chosen profile; where it is wrong, the smallest one, with the complaints in ``refused``."""
    if settings.profile == "own":
        roles, probes = pin_map.own_profile(os.getenv)
    else:
        roles, probes, _ = pin_map.PROFILES[settings.profile]
    has_gp_pins = hasattr(board, "GP0")
    for fault in pin_map.complaints(roles, probes, dir(board), has_gp_pins):
        refused.append(("pins", fault.replace(" ", "-")))
        roles, probes = {}, ()
    return roles, probes


def make_rim(settings: Settings, roles: dict[str, str], probes: tuple[str, ...], now_us, refused) -> Rim:
    """The board's pins and port, as the pin map and the settings say."""
    chips = settings.chain if pin_map.CHAIN_ROLES[0] in roles else 0
    pio = None if chips else _pio_pins(settings, roles, probes, refused)
    if pio is None:
        line = _output(roles.get("clock"), settings.rest_high, settings.inverting)
        halt = _input(roles.get("halt"), settings.halt_low)
        reader = _probes(probes, settings.probe_pull)
        if chips:
            _no_second_phase(settings, refused)
            pins = [getattr(board, roles[role]) for role in pin_map.CHAIN_ROLES]
            reader = with_chain(reader, len(probes), pins, chips)
    else:
        line, halt, reader = pio
    return Rim(
        line,
        _output(roles.get("reset"), False, not settings.reset_high),
        halt,
        reader,
        _contact(roles.get("tick_button"), settings, now_us),
        make_port(),
        now_us,
        len(probes) + chips * CHIP_BITS,
        PASS_US,
        _supply(roles.get("supply_sense")),
        gc.mem_free,  # type: ignore[attr-defined]
        pio is not None,
        _trigger(settings, roles),
        _ready(settings, roles) if pio is not None else None,
        _counter(roles.get("edge_counter")),
        _tug(roles.get("tug")),
        chips * CHIP_BITS,
        LOOKS,
    )


def _trigger(settings: Settings, roles: dict[str, str]):
    name = roles.get("ready") if settings.spare == "trigger" else roles.get("trigger")
    return None if name is None else Output(getattr(board, name), False)


def _ready(settings: Settings, roles: dict[str, str]):
    name = roles.get("ready")
    pin = None if name is None else getattr(board, name)
    return ready_maker(settings, _number(name), _number(roles.get("clock")), pin)


def _tug(name: str | None):
    return None if name is None else Output(getattr(board, name), True)


def _counter(name: str | None):
    if name is None:
        return None
    try:
        import countio
        import digitalio
    except ImportError:
        return None

    from .edge_counter import EdgeCounter

    return EdgeCounter(getattr(board, name), countio, digitalio.Pull.DOWN)


def _pio_pins(settings: Settings, roles: dict[str, str], probes: tuple[str, ...], refused):
    """Clock line, halt line and probes on a PIO state machine; None where that can't be.

    It takes an RP2 chip, pins with numbers, and sixteen probes from GP0 on, or none.
    """
    two_phase = settings.outputs == "two-phase"
    clock = _number(roles.get("clock"))
    halt = _number(roles.get("halt"))
    in_a_row = not probes or probes == tuple("GP%d" % number for number in range(16))
    if sys.platform not in _LEVELS or clock is None or not in_a_row or (halt is None and "halt" in roles):
        _no_second_phase(settings, refused)
        _no_inverse_clock(roles, refused)
        return None
    second = _number(roles.get("inverse_clock"))
    if second != clock + 1:
        _no_inverse_clock(roles, refused)
    if two_phase and (second != clock + 1 or settings.rest_high):
        _no_second_phase(settings, refused)
        two_phase = False
    import digitalio
    import memorymap
    import rp2pio

    from .clock_program import ClockProgram
    from .pio_line import PioLine, RegisterInput, RegisterProbes

    hz = microcontroller.cpu.frequency
    program = ClockProgram(
        "two-phase" if two_phase else "inverse" if second == clock + 1 else "clock",
        "none" if halt is None else "low" if settings.halt_low else "high",
        bool(probes),
        settings.rest_high != settings.inverting,
        min(8, max(2, -(-settings.dead_ns * (hz // 1_000_000) // 1000))),
    )
    line = PioLine(
        rp2pio,
        program,
        getattr(board, roles["clock"]),
        None if halt is None else getattr(board, roles["halt"]),
        digitalio.Pull.UP if settings.halt_low else digitalio.Pull.DOWN,
        getattr(board, probes[0]) if probes else None,
        hz,
        settings.rest_high,
    )
    levels = memorymap.AddressRange(start=_LEVELS[sys.platform], length=4)
    pads = memorymap.AddressRange(start=_PADS[sys.platform], length=64)
    reader = RegisterProbes(levels, pads, settings.probe_pull, len(probes))
    return line, Nothing() if halt is None else RegisterInput(levels, halt, settings.halt_low), reader


def _no_second_phase(settings: Settings, refused) -> None:
    if settings.outputs == "two-phase":
        refused.append(("HANDTICK_SECOND_OUTPUT", "not-on-these-pins"))


def _no_inverse_clock(roles: dict[str, str], refused) -> None:
    if "inverse_clock" in roles:
        refused.append(("pins", "inverse_clock-stays-still:-only-a-PIO-clock-drives-it,-on-the-pin-after-its-own"))


def _number(name: str | None) -> int | None:
    """The number of a pin such as GP16; None for any other."""
    return int(name[2:]) if name is not None and name[:2] == "GP" and name[2:].isdigit() else None


def make_port():
    """The data port; the console where ``boot.py`` could not open one."""
    import usb_cdc

    serial = usb_cdc.data or usb_cdc.console
    return UsbPort(serial) if serial is not None else NoPort()


def identify() -> Identity:
    """Counts this start and says who the board is and why it started."""
    store = microcontroller.nvm
    boot = 0
    if store is not None:
        boot = int.from_bytes(store[0:4], "little")
        boot = 1 if boot == 0xFFFFFFFF else boot + 1
        store[0:4] = boot.to_bytes(4, "little")
    uid = "".join("%02x" % byte for byte in microcontroller.cpu.uid)
    why = str(microcontroller.cpu.reset_reason).rsplit(".", 1)[-1].lower().replace("_", "-")
    if supervisor.runtime.run_reason != supervisor.RunReason.STARTUP:
        why = "reload"
    return Identity(board.board_id, uid, boot, why)


def _contact(name: str | None, settings: Settings, now_us):
    if name is None:
        return NoContact()
    pin = getattr(board, name)
    try:
        import digitalio
        import rp2pio

        from .edge_stamps import StampedContact
    except ImportError:
        return PolledContact(pin)
    settings.press_grain_us = StampedContact.grain_us
    return StampedContact(pin, now_us, rp2pio, digitalio.Pull.UP)


def _probes(names: tuple[str, ...], pull: str):
    if not names:
        return Nothing()
    pins = [getattr(board, name) for name in names]
    if names == tuple("GP%d" % number for number in range(len(names))) and sys.platform in _LEVELS:
        import memorymap

        return ProbesAtOnce(pins, pull, memorymap.AddressRange(start=_LEVELS[sys.platform], length=4))
    return ProbesOneByOne(pins, pull)


def _output(name: str | None, level: bool, inverted: bool):
    return Nothing() if name is None else Output(getattr(board, name), level, inverted)


def _input(name: str | None, active_low: bool):
    return Nothing() if name is None else Input(getattr(board, name), active_low)


def _button(name: str | None):
    return None if name is None else Input(getattr(board, name), active_low=True)


def _light(name: str | None):
    return None if name is None or not hasattr(board, name) else Output(getattr(board, name), False)


def _supply(name: str | None):
    reading = _analogue(name)
    return None if reading is None else Supply(reading)


def _analogue(name: str | None):
    if name is None:
        return None
    import analogio

    return analogio.AnalogIn(getattr(board, name))
