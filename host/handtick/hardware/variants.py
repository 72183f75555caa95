"""The ways to wire a Raspberry Pi Pico: to an LED alone, to a machine at 3.3 V, to one at 5 V without or with the tug.

Figures: thresholds, currents and pin numbers are those of the makers' data sheets (RP2040, Pico, 74HCT125, 74LVC125A,
74LVC245A); a builder checks them against the sheet of the very part.
"""

from __future__ import annotations

from handtick.hardware.circuit import BOARD_SUPPLY, GROUND, MACHINE_SUPPLY, Circuit, Path
from handtick.hardware.pico import PICO_3V3, PICO_GROUND, PICO_PINS
from handtick_board import pin_map

#: (output enable, input, output) of the four gates of a '125, then ground and supply.
_GATES = (("1", "2", "3"), ("4", "5", "6"), ("10", "9", "8"), ("13", "12", "11"))
#: Inputs A1 to A8 and outputs B1 to B8 of a '245.
_A_PINS = tuple(str(pin) for pin in range(2, 10))
_B_PINS = tuple(str(pin) for pin in range(18, 10, -1))

# Outputs by role: the pull's end that keeps the line at rest while nobody drives it, and the machine's net.
_OUTPUTS = {
    "clock": (GROUND, "CLOCK"),
    "inverse_clock": (BOARD_SUPPLY, "CLOCK INVERSE"),
    "reset": (BOARD_SUPPLY, "RESET"),
    "ready": (GROUND, "READY"),
}
#: The net of the probes' resistors where a pin moves them.
_TUG = "TUG"
_BUTTONS = ("tick_button", "run_button", "reset_button")
_AXIAL = "axial, 0.25 W"
_DISC = "ceramic, 5.08 mm"


def variants() -> dict[str, Circuit]:
    """Every variant by name, as the pin map has it."""
    return {
        "minimal": _minimal(),
        "3v3": _machine("3v3", "full"),
        "5v": _machine("5v", "full"),
        "5v-tug": _machine("5v-tug", "tug"),
    }


def _minimal() -> Circuit:
    title = "A Pico, a button and an LED on the clock line: the first clean tick, no machine"
    circuit = Circuit("minimal", title, "minimal")
    roles, probes, _ = pin_map.PROFILES["minimal"]
    _pico(circuit, roles, probes)
    lead = circuit.add(
        "R", "resistor", "1 kΩ", _AXIAL, {"1": "GP16", "2": "LAMP"}, "limits the LED's current to about 1.5 mA", "470 Ω"
    )
    led = circuit.add(
        "D", "LED", "red", "5 mm", {"1": "LAMP", "2": GROUND}, "lit while the clock line is high", "any LED"
    )
    pull = _pull(circuit, "GP16", GROUND)
    circuit.paths.append(Path("lamp", "clock", (pull, lead, led)))
    circuit.rests["GP16"] = GROUND
    _button(circuit, "tick_button", roles)
    circuit.notes.append('Set HANDTICK_PROFILE = "minimal" in settings.toml on the drive.')
    return circuit


def _machine(name: str, profile: str) -> Circuit:
    five = name != "3v3"
    roles, probes, left_out = pin_map.PROFILES[profile]
    tug = roles.get("tug")
    title = f"A Pico and a machine of logic chips at {'5 V' if five else '3.3 V'}"
    circuit = Circuit(name, f"{title}, with the tug" if tug else title, profile)
    _pico(circuit, roles, probes)
    _drivers(circuit, roles, five)
    for role in _BUTTONS:
        _button(circuit, role, roles)
    _knob(circuit, roles)
    _sense(circuit, roles)
    if five:
        _buffered_inputs(circuit, roles, probes)
    else:
        _series_inputs(circuit, roles, probes)
    for role, (pull_to, net) in _outputs(roles):
        circuit.ways[net] = roles[role]
        circuit.rests[roles[role]] = pull_to
        circuit.ends.append(net)
    if tug is not None:
        _tug(circuit, tug)
    lines = {f"PROBE {probe}": pin for probe, pin in enumerate(probes)} | {"HALT": roles["halt"]}
    circuit.ways |= lines
    if five:
        circuit.tied |= {line: GROUND if line == "HALT" else "" for line in lines}
    bulk = {"1": MACHINE_SUPPLY, "2": GROUND}
    circuit.add("C", "capacitor", "10 µF", "electrolytic, 16 V", bulk, "stores charge for the drivers' edges", "22 µF")
    circuit.notes += [
        "VM is the machine's own supply. It feeds the driver and never the Pico; the grounds are one.",
        "Pulls are drawn for a clock that rests low and a reset that is active low, as the settings come. For other "
        "settings, take the pull to the other side.",
        f'Profile "{profile}"; it leaves out {left_out}.',
    ]
    return circuit


def _pico(circuit: Circuit, roles: dict[str, str], probes: tuple[str, ...]) -> None:
    used = [*probes, *(pin for pin in roles.values() if pin in PICO_PINS)]
    pins = {PICO_PINS[pin]: pin for pin in used}
    pins[PICO_GROUND] = GROUND
    pins[PICO_3V3] = BOARD_SUPPLY
    circuit.add(
        "U",
        "board",
        "Raspberry Pi Pico",
        "module, 2 × 20 pins",
        dict(sorted(pins.items(), key=lambda item: int(item[0]))),
        "the microcontroller board",
        "Pico H; a Pico 2 has the same pins, see the page on boards",
    )


def _drivers(circuit: Circuit, roles: dict[str, str], five: bool) -> None:
    """One '125 at the machine's supply drives every line to the machine."""
    pins = {"7": GROUND, "14": MACHINE_SUPPLY}
    chip = f"U{1 + sum(part.ref.startswith('U') for part in circuit.parts.values())}"
    outputs = _outputs(roles)
    for place, (enable, into, out) in enumerate(_GATES):
        if place < len(outputs):
            role, (_, net) = outputs[place]
            pins |= {enable: GROUND, into: f"{roles[role]} IN", out: f"{net} OUT"}
        else:
            pins |= {enable: GROUND, into: GROUND}
    circuit.add(
        "U",
        "driver",
        "74HCT125" if five else "74LVC125A",
        "DIP-14",
        pins,
        "drives the machine's lines with fast edges; its inputs take the Pico's 3.3 V levels",
        "74AHCT125, with the series resistors it has here" if five else "74HC125 at 3.3 V, slower edges",
    )
    _decouple(circuit, chip, MACHINE_SUPPLY)
    for role, (pull_to, net) in outputs:
        pin = roles[role]
        series = circuit.add(
            "R",
            "resistor",
            "1 kΩ",
            _AXIAL,
            {"1": pin, "2": f"{pin} IN"},
            "limits what flows into the driver while the machine's supply is off",
            "680 Ω to 2.2 kΩ",
        )
        pull = _pull(circuit, f"{pin} IN", pull_to)
        end = circuit.add(
            "R",
            "resistor",
            "47 Ω",
            _AXIAL,
            {"1": f"{net} OUT", "2": net},
            "at the driver's pin: damps the ringing of the wire",
            "33 Ω to 100 Ω",
        )
        circuit.paths.append(Path("out", role, (series, pull, end), chip))


def _buffered_inputs(circuit: Circuit, roles: dict[str, str], probes: tuple[str, ...]) -> None:
    """'245s at the Pico's supply take 5 V at their inputs, also while that supply is off."""
    groups = [
        ([f"PROBE {probe}" for probe in range(8)], list(probes[:8])),
        ([f"PROBE {probe}" for probe in range(8, 16)], list(probes[8:])),
        (["HALT"], [roles["halt"]]),
    ]
    for lines, targets in groups:
        pins = {"1": BOARD_SUPPLY, "10": GROUND, "19": GROUND, "20": BOARD_SUPPLY}
        for place, (into, out) in enumerate(zip(_A_PINS, _B_PINS, strict=True)):
            if place < len(lines):
                pins |= {into: lines[place], out: targets[place]}
            elif place == 1 and "tug" in roles:
                pins |= {into: roles["tug"], out: _TUG}
            else:
                pins[into] = GROUND
        chip = circuit.add(
            "U",
            "input buffer",
            "74LVC245A",
            "DIP-20",
            pins,
            "brings 5 V lines down to 3.3 V; its inputs may be at 5 V while it has no supply",
            "74LVC244A with its own pin numbers; never an automatic level shifter",
        )
        _decouple(circuit, chip, BOARD_SUPPLY)
        if len(lines) == 8:
            rails = {
                "1": _TUG if "tug" in roles else BOARD_SUPPLY,
                **{str(place + 2): line for place, line in enumerate(lines)},
            }
            circuit.add(
                "RN",
                "resistor network",
                "8 × 100 kΩ",
                "SIP-9, bussed",
                rails,
                "pulls loose probe wires as the tug says, high when nobody asks"
                if "tug" in roles
                else "ties loose probe wires high, so that none floats",
                "eight single 100 kΩ",
            )
        else:
            tie = {"1": GROUND, "2": lines[0]}
            why = "a halt line that is not wired asks for nothing"
            ref = circuit.add("R", "resistor", "100 kΩ", _AXIAL, tie, why, "47 kΩ")
            circuit.paths.append(Path("tie", "halt", (ref,)))


def _series_inputs(circuit: Circuit, roles: dict[str, str], probes: tuple[str, ...]) -> None:
    lines = [(f"PROBE {probe}", pin) for probe, pin in enumerate(probes)] + [("HALT", roles["halt"])]
    for line, pin in lines:
        ref = circuit.add(
            "R",
            "resistor",
            "1 kΩ",
            _AXIAL,
            {"1": line, "2": pin},
            "limits the current where one side has its supply and the other not",
            "680 Ω to 2.2 kΩ",
        )
        circuit.paths.append(Path("series", line, (ref,)))
    circuit.notes.append(
        "The lines go straight into the Pico's pins: nothing above 3.3 V may ever be on them, and the machine is "
        "switched on after the Pico and off before it. Where that can't be kept, take the 5 V variant's input buffers."
    )


def _outputs(roles: dict[str, str]) -> list[tuple[str, tuple[str, str]]]:
    """The outputs that a profile has, each with where it is pulled and the machine's net."""
    return [(role, ends) for role, ends in _OUTPUTS.items() if role in roles]


def _tug(circuit: Circuit, pin: str) -> None:
    """The pin that moves the probes' resistors, through a spare gate that takes 5 V at its output; high at rest."""
    why = "keeps loose probe wires high while the Pico is in reset and drives nothing"
    pull = circuit.add("R", "resistor", "10 kΩ", _AXIAL, {"1": BOARD_SUPPLY, "2": pin}, why, "4.7 kΩ to 10 kΩ")
    circuit.paths.append(Path("tie", "tug", (pull,)))
    circuit.rests[pin] = BOARD_SUPPLY
    circuit.tugs[_TUG] = pin
    circuit.notes += [
        "The tug: 100 kΩ at each probe wire, before the input buffers, moves a wire that nobody drives and none that "
        "somebody does. It is for CMOS inputs (HC, HCT, AC, ACT, AHC, AHCT, LVC, 4000B). An LS or other bipolar input "
        "gives up to 0.4 mA, which 100 kΩ can't hold low: such a wire looks driven.",
        f"{_TUG} comes from a gate of the input buffers, not from the Pico's pin: lines at 5 V push current into it.",
    ]


def _button(circuit: Circuit, role: str, roles: dict[str, str]) -> None:
    why = pin_map.ROLES[role][1]
    ref = circuit.add(
        "SW", "button", "push button", "6 mm, normally open", {"1": roles[role], "2": GROUND}, why, "any that closes"
    )
    circuit.paths.append(Path("button", role, (ref,)))


def _knob(circuit: Circuit, roles: dict[str, str]) -> None:
    pins = {"1": BOARD_SUPPLY, "2": roles["knob"], "3": GROUND}
    ref = circuit.add("RV", "potentiometer", "10 kΩ linear", "9 mm", pins, "the rate knob", "4.7 kΩ to 100 kΩ")
    circuit.paths.append(Path("knob", "knob", (ref,)))


def _sense(circuit: Circuit, roles: dict[str, str]) -> None:
    pin = roles["supply_sense"]
    why = "halves the machine's supply for the Pico to measure"
    high = circuit.add("R", "resistor", "10 kΩ", _AXIAL, {"1": MACHINE_SUPPLY, "2": pin}, why, "two alike, to 47 kΩ")
    low = circuit.add("R", "resistor", "10 kΩ", _AXIAL, {"1": pin, "2": GROUND}, why, "two alike, to 47 kΩ")
    circuit.paths.append(Path("sense", "supply_sense", (high, low)))
    circuit.halves.append(pin)


def _pull(circuit: Circuit, net: str, to: str) -> str:
    why = "keeps the line at rest while the Pico is in reset and drives nothing"
    return circuit.add("R", "resistor", "10 kΩ", _AXIAL, {"1": net, "2": to}, why, "4.7 kΩ to 10 kΩ")


def _decouple(circuit: Circuit, chip: str, supply: str) -> None:
    pins = {"1": supply, "2": GROUND}
    circuit.add("C", "capacitor", "100 nF", _DISC, pins, f"at the supply pins of {chip}, as near as it goes", "220 nF")
