"""One clock to eight boards: a gate and a resistor each, so that a short on one does not stop the others.

A gate of a 74HCT125 may give 25 mA at most (its data sheet, limiting values); with 220 Ω a line that touches ground or
the supply takes less than that at 5 V, and only its own gate is loaded.
"""

from __future__ import annotations

from handtick.hardware.circuit import GROUND, MACHINE_SUPPLY, Circuit

BOARDS = 8
_GATES = (("1", "2", "3"), ("4", "5", "6"), ("10", "9", "8"), ("13", "12", "11"))
_AXIAL = "axial, 0.25 W"


def fan_out() -> Circuit:
    """The circuit; its input is the line CLOCK of the 5 V variant, and its supply is that machine's."""
    circuit = Circuit("fan-out", "One clock to eight boards at 5 V, in a row behind the 5 V variant's CLOCK line")
    for chip in range(BOARDS // len(_GATES)):
        pins = {"7": GROUND, "14": MACHINE_SUPPLY}
        for place, (enable, into, out) in enumerate(_GATES):
            pins |= {enable: GROUND, into: "CLOCK", out: f"BOARD {chip * len(_GATES) + place + 1} OUT"}
        ref = circuit.add(
            "U",
            "driver",
            "74HCT125",
            "DIP-14",
            pins,
            "gives each board a clock of its own",
            "74AHCT125 with 470 Ω at each output, which has faster edges",
        )
        supply = {"1": MACHINE_SUPPLY, "2": GROUND}
        why = f"at the supply pins of {ref}, as near as it goes"
        circuit.add("C", "capacitor", "100 nF", "ceramic, 5.08 mm", supply, why, "220 nF")
    for number in range(1, BOARDS + 1):
        line = f"BOARD {number}"
        why = "keeps a short on this board's line from the others"
        circuit.add("R", "resistor", "220 Ω", _AXIAL, {"1": f"{line} OUT", "2": line}, why, "270 Ω to 470 Ω")
        circuit.ends.append(line)
        circuit.apart.append(line)
    why = "keeps every board's clock low while CLOCK is not wired"
    circuit.add("R", "resistor", "10 kΩ", _AXIAL, {"1": "CLOCK", "2": GROUND}, why, "4.7 kΩ to 10 kΩ")
    circuit.rests["CLOCK"] = GROUND
    circuit.notes += [
        "CLOCK comes from the 5 V variant, behind its 47 Ω. Run a ground wire beside each board's clock, from here to "
        "that board; the grounds of all boards are one.",
        "A short on one board's line takes at most 23 mA from its own gate. The others go on; find it by its warm "
        "resistor.",
        "Each board's edges come within a gate's delay of each other, some 20 ns; a bus between boards must bear that.",
    ]
    return circuit
