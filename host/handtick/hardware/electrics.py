"""An electrical check of a circuit: what a careful builder would look at before the supply goes on.

It works on the netlist alone (``Circuit.parts``), not on how the circuit was made. Supplies and families come from the
parts' values, levels from the levels calculator. What it does not know: timing, the length of wires, the breadboard.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

from handtick.errors import UsageError
from handtick.hardware.chips import CHIPS, Chip, pico
from handtick.hardware.circuit import BOARD_SUPPLY, GROUND, MACHINE_SUPPLY, Circuit, Part
from handtick.levels import FAMILIES, fit
from handtick.levels.fit import GUARANTEED, HARMS, TYPICAL

RAILS = (GROUND, BOARD_SUPPLY, MACHINE_SUPPLY)
# Most current of a pin of the RP2040 at its strongest setting, and least series resistance between parts that are fed
# by different supplies: less than 4 mA into the clamps of an input, in volts over kilo-ohms. RP2040 data sheet, 5.5.3.
_PIN_MA, _CLAMP_MA, _CLAMP_V = 12.0, 4.0, 0.6
_LED_V = 1.8
# Most current of a gate of HC, HCT and their like (their data sheets, limiting values).
_GATE_MA = 25.0
# A resistor up to this carries a signal; a larger one to a rail is a pull.
_SERIES_KOHM = 2.5
_PULL_KOHM = 120.0


@dataclass(frozen=True)
class Node:
    """A pin of a chip, as an end of a net."""

    part: str
    pin: str
    family: str
    supply: str


class _Board:
    """A circuit taken apart: its nets with outputs, inputs, resistors."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = circuit
        self.nets = circuit.nets()
        self.chips: dict[str, Chip] = {}
        self.outputs: dict[str, list[Node]] = {}
        self.inputs: dict[str, list[Node]] = {}
        for part in circuit.parts.values():
            chip = pico(circuit.profile) if part.kind == "board" else CHIPS.get(part.value)
            if chip is not None:
                self.chips[part.ref] = chip
                self._sort(part, chip)
        self.links: dict[str, list[tuple[str, float]]] = {}
        for part in circuit.parts.values():
            for one, other, kohm in _resistors(part):
                self.links.setdefault(one, []).append((other, kohm))
                self.links.setdefault(other, []).append((one, kohm))

    def _sort(self, part: Part, chip: Chip) -> None:
        supply = chip.supply or part.pins.get(chip.supply_pin, "")
        for book, pins in ((self.outputs, chip.outputs), (self.inputs, chip.inputs)):
            for pin in pins:
                if pin in part.pins:
                    node = Node(part.ref, pin, chip.family, supply)
                    book.setdefault(part.pins[pin], []).append(node)

    def reached(self, net: str) -> dict[str, float]:
        """Nets that are one signal with this one, with the resistance on the way in kilo-ohms."""
        found = {net: 0.0}
        todo = [net]
        while todo:
            here = todo.pop()
            for other, kohm in self.links.get(here, ()):
                if other not in RAILS and kohm <= _SERIES_KOHM and other not in found:
                    found[other] = found[here] + kohm
                    todo.append(other)
        return found

    def pulls(self, net: str) -> set[str]:
        """The rails that a signal is pulled to by resistors: straight, or by a gate whose input rests there."""
        others = [other for each in self.reached(net) for other, kohm in self.links.get(each, ()) if kohm <= _PULL_KOHM]
        return {rail for other in others for rail in ({other} if other in RAILS else self._rests_of(other))}

    def _rests_of(self, net: str) -> set[str]:
        """The rails that a gate's output is at while the Pico drives nothing; empty for a net that no gate drives."""
        rests = self.circuit.rests
        return {
            rests[into]
            for node in self.outputs.get(net, ())
            for one, out in self.chips[node.part].gates
            if out == node.pin and (into := self.circuit.parts[node.part].pins.get(one, "")) in rests
        }


def check(circuit: Circuit, machine_v: float, machine_family: str = "74HC") -> list[str]:
    """What is wrong with a circuit, one sentence each; empty where nothing is.

    Args:
        circuit: the circuit.
        machine_v: the machine's supply in volts.
        machine_family: what the machine's own outputs and inputs are.
    """
    board = _Board(circuit)
    return [
        *_chips(board, machine_v),
        *_drivers(board),
        *_inputs(board),
        *_ways(board),
        *_levels(board, machine_v, machine_family),
        *_currents(board, machine_v),
        *_rests(board),
        *_shorts(board, machine_v),
    ]


def _volts(rail: str, machine_v: float) -> float:
    return {BOARD_SUPPLY: 3.3, MACHINE_SUPPLY: machine_v}.get(rail, 0.0)


def _chips(board: _Board, machine_v: float) -> Iterator[str]:
    """Chips are known, whole, fed, and have their capacitor."""
    for part in board.circuit.parts.values():
        chip = board.chips.get(part.ref)
        if chip is None:
            if part.kind in ("board", "driver", "input buffer"):
                yield f"{part.ref} {part.value}: no chip of that name is known"
            continue
        for pin in sorted(chip.needed):
            if pin not in part.pins:
                yield f"{part.ref} pin {pin} is on no net"
        for pin in part.pins:
            if pin not in chip.known:
                yield f"{part.ref} has something on pin {pin}, which it does not use"
        for pin, wanted in chip.fixed.items():
            if part.pins.get(pin) not in wanted:
                yield f"{part.ref} pin {pin} is on {part.pins.get(pin)}, not on {' or '.join(wanted)}"
        supply = part.pins.get(chip.supply_pin, "")
        least_v, most_v = FAMILIES[chip.family].supply_v
        volts = _volts(chip.supply or supply, machine_v)
        if not least_v <= volts <= most_v:
            yield f"{part.ref} {part.value} is fed {volts:g} V; it is made for {least_v:g} to {most_v:g} V"
        if part.kind != "board" and not _has_capacitor(board, supply):
            yield f"{part.ref} has no capacitor at its supply"


def _has_capacitor(board: _Board, supply: str) -> bool:
    fed = sum(
        part.pins.get(board.chips[part.ref].supply_pin) == supply
        for part in board.circuit.parts.values()
        if part.ref in board.chips and part.kind != "board"
    )
    small = sum(
        part.value == "100 nF" and set(part.pins.values()) == {supply, GROUND} for part in board.circuit.parts.values()
    )
    return small >= fed


def _drivers(board: _Board) -> Iterator[str]:
    """No output works against another, or against a rail."""
    seen: set[frozenset[str]] = set()
    for net, outputs in board.outputs.items():
        names = [f"{node.part} pin {node.pin}" for node in outputs]
        if net in RAILS:
            yield f"{names[0]}, an output, is on {net}"
        for other in board.reached(net):
            if other != net:
                names += [f"{node.part} pin {node.pin}" for node in board.outputs.get(other, ())]
        signal = frozenset(board.reached(net))
        if len(names) > 1 and signal not in seen:
            seen.add(signal)
            yield f"{' and '.join(sorted(names))} drive the same net"


def _inputs(board: _Board) -> Iterator[str]:
    """Every input has something that gives it a level."""
    for net, inputs in board.inputs.items():
        if net in RAILS:
            continue
        signal = board.reached(net)
        driven = any(each in board.outputs for each in signal)
        switched = any(_has_switch(board, each) for each in signal)
        if not driven and not switched and not board.pulls(net) and not _from_machine(board, net):
            for node in inputs:
                yield f"{node.part} pin {node.pin} floats: nothing gives {net} a level"


def _has_switch(board: _Board, net: str) -> bool:
    """Whether a button or a knob is on a net; a button's pin has the Pico's own pull."""
    return any(
        board.circuit.parts[ref].kind == "button" and GROUND in board.circuit.parts[ref].pins.values()
        for ref, _ in board.nets.get(net, ())
    )


def _from_machine(board: _Board, net: str) -> bool:
    """Whether a line straight from the machine is on it: what the Pico's own pull keeps while that is not wired."""
    is_pico = all(board.circuit.parts[node.part].kind == "board" for node in board.inputs.get(net, ()))
    return is_pico and any(each.startswith(("PROBE", "HALT")) for each in board.reached(net))


def _ways(board: _Board) -> Iterator[str]:
    """Each line of the machine is joined to its own pin of the Pico, and to no other."""
    for net, wanted in (board.circuit.ways | board.circuit.tugs).items():
        found = sorted(_far_ends(board, net))
        if found != [wanted]:
            yield f"{net} leads to {', '.join(found) or 'nothing'}, not to {wanted}"


def _far_ends(board: _Board, net: str) -> set[str]:
    """The named ends that a line reaches through resistors and gates, against their direction or along it."""
    ends: set[str] = set()
    todo, seen = [net], set[str]()
    while todo:
        for each in board.reached(todo.pop()):
            if each in seen:
                continue
            seen.add(each)
            if each in board.circuit.ways.values() or each in board.circuit.tugs.values():
                ends.add(each)
            todo += _through_gates(board, each)
    return ends


def _through_gates(board: _Board, net: str) -> list[str]:
    found = []
    for ref, chip in board.chips.items():
        pins = board.circuit.parts[ref].pins
        for into, out in chip.gates:
            for one, other in ((into, out), (out, into)):
                if pins.get(one) == net and other in pins and pins[other] not in RAILS:
                    found.append(pins[other])
    return found


def _levels(board: _Board, machine_v: float, machine_family: str) -> Iterator[str]:
    """Every output drives the inputs of its signal by the sheets, and harms none."""
    for net, inputs in board.inputs.items():
        signal = board.reached(net)
        outputs = [node for each in signal for node in board.outputs.get(each, ())]
        sources = [(node.family, _volts(node.supply, machine_v), f"{node.part} pin {node.pin}") for node in outputs]
        if any(each.startswith(("PROBE", "HALT")) for each in signal):
            sources.append((machine_family, machine_v, "the machine"))
        for node in inputs:
            for family, volts, name in sources:
                yield from _fits(family, volts, name, node, _volts(node.supply, machine_v), net)
    for net in board.circuit.ways:
        for each in board.reached(net):
            for node in board.outputs.get(each, ()):
                machine = Node("the machine", "", machine_family, "")
                volts = _volts(node.supply, machine_v)
                yield from _fits(node.family, volts, f"{node.part} pin {node.pin}", machine, machine_v, net)


def _fits(family: str, volts: float, name: str, node: Node, node_v: float, net: str) -> Iterator[str]:
    into = f"{node.part} pin {node.pin}" if node.pin else node.part
    try:
        found = fit(family, volts, node.family, node_v)
    except UsageError as error:
        yield f"{name} to {into}: {error}"
        return
    if found.verdict != GUARANTEED:
        says = {HARMS: "harms it", TYPICAL: "is not guaranteed to drive it"}.get(found.verdict, "does not drive it")
        yield f"{name} at {volts:g} V {says} ({into} at {node_v:g} V, net {net})"


def _currents(board: _Board, machine_v: float) -> Iterator[str]:
    """No pin of the Pico gives more than it may, and none feeds a chip whose supply is off."""
    for part in board.circuit.of_kind("LED"):
        for net in part.pins.values():
            if net in RAILS:
                continue
            ends = board.links.get(net, [])
            if not any(each in board.outputs for each, _ in ends):
                yield f"{part.ref} is not lit by anything"
            for other, kohm in ends:
                if other in board.outputs and _PIN_MA * kohm < 3.3 - _LED_V:
                    yield f"{part.ref} takes more than the {_PIN_MA:g} mA that a pin gives"
            if net in board.outputs:
                yield f"{part.ref} is on a pin without a resistor"
    for net, outputs in board.outputs.items():
        for other, kohm in board.reached(net).items():
            for node in board.inputs.get(other, ()):
                for source in outputs:
                    apart = source.supply != node.supply and source.part != node.part
                    volts = _volts(source.supply, machine_v) - _CLAMP_V
                    bears = CHIPS.get(board.circuit.parts[node.part].value)
                    if apart and not (bears and bears.off_tolerant) and (not kohm or volts / kohm > _CLAMP_MA):
                        yield f"{source.part} pin {source.pin} feeds {node.part} through pin {node.pin} while it is off"
    for net, pin in board.circuit.ways.items():
        if net.startswith(("PROBE", "HALT")) and pin in board.reached(net):
            kohm = board.reached(net)[pin]
            if not kohm or (machine_v - _CLAMP_V) / kohm > _CLAMP_MA:
                yield f"{net} feeds the Pico through {pin} while that is off"


def _rests(board: _Board) -> Iterator[str]:
    """Each line that the Pico drives is kept at rest while it drives nothing."""
    for pin, rail in board.circuit.rests.items():
        if board.pulls(pin) != {rail}:
            found = " and ".join(sorted(board.pulls(pin))) or "nothing"
            yield f"{pin} is pulled to {found} while the Pico is in reset, not to {rail}"
    for net in board.circuit.ends:
        if not any(kohm >= 0.03 and other in board.outputs for other, kohm in board.links.get(net, ())):
            yield f"{net} has no resistor at its driver"
    for pin in board.circuit.halves:
        ends = dict(board.links.get(pin, ()))
        if ends.get(MACHINE_SUPPLY) != ends.get(GROUND) or GROUND not in ends:
            yield f"{pin} is not at half the machine's supply"
    for net, rail in board.circuit.tied.items():
        if not board.pulls(net) or (rail and board.pulls(net) != {rail}):
            yield f"{net} floats while it is not wired, or goes to the wrong side"


def _shorts(board: _Board, machine_v: float) -> Iterator[str]:
    """A short on one of many lines loads its own gate alone, and no more than that bears."""
    for net in board.circuit.apart:
        gates = [(other, kohm) for other, kohm in board.links.get(net, ()) if other in board.outputs]
        if len(gates) != 1:
            yield f"{net} has {len(gates)} gates, not one of its own"
        for other, kohm in gates:
            if machine_v > _GATE_MA * kohm:
                yield f"a short on {net} takes more than the {_GATE_MA:g} mA that a gate bears"
            if sum(each not in RAILS for each, _ in board.links.get(other, ())) != 1:
                yield f"a short on {net} loads another line's gate too"


def _resistors(part: Part) -> Iterator[tuple[str, str, float]]:
    """(net, net, kilo-ohms) of every resistor in a part."""
    if part.kind == "resistor" and {"1", "2"} <= set(part.pins):
        yield part.pins["1"], part.pins["2"], _kohm(part.value)
    elif part.kind == "resistor network":
        common = part.pins.get("1", "")
        for pin, net in part.pins.items():
            if pin != "1":
                yield common, net, _kohm(part.value)
    elif part.kind == "potentiometer":
        wiper = part.pins.get("2", "")
        for pin in ("1", "3"):
            if pin in part.pins:
                yield part.pins[pin], wiper, _kohm(part.value)


def _kohm(value: str) -> float:
    found = re.search(r"([\d.]+) (k?)Ω", value)
    if found is None:
        return 0.0
    return float(found[1]) * (1.0 if found[2] else 0.001)
