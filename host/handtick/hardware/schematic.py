"""Draws a circuit: each line to the machine as a row of symbols between two named nets, chips as boxes beside them.

A name at the end of a wire is a net: all ends with the same name are joined.
"""

from __future__ import annotations

import re
from typing import Literal

import schemdraw
from schemdraw import elements as elm
from schemdraw import logic

from handtick.hardware.circuit import GROUND, Circuit, Part, Path
from handtick_board import pin_map

_Side = Literal["left", "right", "up", "down"]

_ROW = 3.5
_LEFT = 12.0
_FONT = 11
# Gates of the drivers' chip.
_GATES = 4

# schemdraw's own clip paths are numbered afresh in each process; nothing else in the file depends on when it is made.
_INK = "#1a1a1a"
_PAPER = "#ffffff"


def schematic_svg(circuit: Circuit) -> str:
    """The schematic as an SVG file."""
    schemdraw.use("svg")
    drawing = schemdraw.Drawing(show=False)
    drawing.config(fontsize=_FONT, font="sans-serif", color=_INK, bgcolor=_PAPER, margin=0.6)
    _Sheet(drawing, circuit).draw()
    return _settled(drawing.get_imagedata("svg").decode("utf-8"))


class _Sheet:
    def __init__(self, drawing: schemdraw.Drawing, circuit: Circuit) -> None:
        self._drawing = drawing
        self._circuit = circuit

    def draw(self) -> None:
        """The Pico on the left, rows in the middle, the other chips in a column on the right."""
        self._chip(next(self._circuit.of_kind("board")), (0.0, 0.0), 6.0)
        y = 0.0
        for path in self._circuit.paths:
            if path.kind == "series":
                continue
            getattr(self, f"_row_{path.kind}")(path, y)
            y -= 4.2 if path.kind in ("knob", "sense") else _ROW
        self._driver_supply(y)
        self._decoupling(y - 1.6)
        x = _LEFT + 18.0
        top = 0.0
        for part in [*self._circuit.of_kind("input buffer"), *self._circuit.of_kind("resistor network")]:
            height = self._chip(part, (x, top), 4.5)
            top -= height + 2.2
            if top < -26 and part.kind == "input buffer":
                x, top = x + 12.0, 0.0
        self._series_rows(x)

    # Boxes.

    def _chip(self, part: Part, corner: tuple[float, float], width: float) -> float:
        """A box with named pins, its nets beside it; returns its height."""
        left, right = self._sides(part)
        rows = max(len(left), len(right))
        height = rows * 0.9 + 0.9
        pins = []
        sides: tuple[tuple[Literal["left", "right"], list[str]], ...] = (("left", left), ("right", right))
        for side, names in sides:
            for place, pin in enumerate(names):
                slot = f"{len(names) - place}/{len(names)}" if len(names) == rows else f"{rows - place}/{rows}"
                pins.append(elm.IcPin(name=_function(part, pin), pin=pin, side=side, slot=slot, lblsize=_FONT))
        box = elm.Ic(pins=pins, size=(width, height), leadlen=0.8, pinspacing=0.9)
        x, y = corner
        self._drawing += box.at((x, y - height)).right()
        self._text(x + width / 2, y + 0.45, f"{part.ref}  {part.value}")
        for side, names in sides:
            for pin in names:
                self._net(box.absanchors[f"pin{pin}"], part.pins[pin], side)
        return height

    def _sides(self, part: Part) -> tuple[list[str], list[str]]:
        pins = list(part.pins)
        if part.kind == "board":
            left = [pin for pin in pins if int(pin) <= 20]
            return left, [pin for pin in sorted(pins, key=int, reverse=True) if int(pin) > 20]
        if part.kind == "input buffer":
            return [str(pin) for pin in (*range(2, 10), 1, 19)], [
                *(str(pin) for pin in range(18, 10, -1) if str(pin) in part.pins),
                "20",
                "10",
            ]
        return ["1"], pins[1:]

    # Rows.

    def _row_out(self, path: Path, y: float) -> None:
        series, pull, end = (self._circuit.parts[ref] for ref in path.parts)
        gate = self._circuit.parts[path.gate]
        x = _LEFT
        self._net((x, y), series.pins["1"], "left")
        self._two_pins(elm.Resistor(), series, (x, y), 2.6)
        joint = (x + 2.6, y)
        self._drawing += elm.Dot().at(joint)
        self._branch(pull, joint)
        self._drawing += elm.Line().at(joint).to((x + 5.2, y))
        into = next(pin for pin, net in gate.pins.items() if net == series.pins["2"])
        out = next(pin for pin, net in gate.pins.items() if net == end.pins["1"])
        buffer = logic.Buf().at((x + 5.2, y)).anchor("in1").right()
        self._drawing += buffer
        self._text(x + 6.2, y + 0.75, f"{gate.ref}  pin {into} to {out}")
        self._drawing += elm.Line().at(buffer.absanchors["out"]).to((x + 7.6, y))
        self._two_pins(elm.Resistor(), end, (x + 7.6, y), 2.6)
        self._net((x + 10.2, y), end.pins["2"], "right")

    def _row_lamp(self, path: Path, y: float) -> None:
        pull, lead, led = (self._circuit.parts[ref] for ref in path.parts)
        x = _LEFT
        self._net((x, y), lead.pins["1"], "left")
        self._drawing += elm.Line().at((x, y)).to((x + 1.2, y))
        self._drawing += elm.Dot().at((x + 1.2, y))
        self._branch(pull, (x + 1.2, y))
        self._two_pins(elm.Resistor(), lead, (x + 1.2, y), 2.6)
        self._two_pins(elm.LED(), led, (x + 3.8, y), 2.4)
        self._net((x + 6.2, y), GROUND, "right")

    def _row_button(self, path: Path, y: float) -> None:
        part = self._circuit.parts[path.parts[0]]
        x = _LEFT
        self._net((x, y), part.pins["1"], "left")
        self._two_pins(elm.Button(), part, (x, y), 3.0, _role(path.role))
        self._net((x + 3.0, y), GROUND, "right")

    def _row_knob(self, path: Path, y: float) -> None:
        part = self._circuit.parts[path.parts[0]]
        x = _LEFT + 2.0
        pot = elm.Potentiometer().at((x, y + 0.6)).to((x, y - 1.8))
        self._drawing += pot
        self._net((x, y + 0.6), part.pins["1"], "up")
        self._net((x, y - 1.8), part.pins["3"], "down")
        self._net(pot.absanchors["tap"], part.pins["2"], "right" if pot.absanchors["tap"][0] > x else "left")
        self._text(x + 3.6, y - 0.6, f"{part.ref}  {part.value}\n{_role(path.role)}")

    def _row_sense(self, path: Path, y: float) -> None:
        high, low = (self._circuit.parts[ref] for ref in path.parts)
        x = _LEFT
        self._net((x, y), high.pins["1"], "left")
        self._two_pins(elm.Resistor(), high, (x, y), 2.6)
        self._drawing += elm.Dot().at((x + 2.6, y))
        self._branch(low, (x + 2.6, y))
        self._net((x + 2.6, y), high.pins["2"], "right", lead=1.6)

    def _row_tie(self, path: Path, y: float) -> None:
        part = self._circuit.parts[path.parts[0]]
        x = _LEFT
        self._net((x, y), part.pins["2"], "left")
        self._two_pins(elm.Resistor(), part, (x, y), 2.6)
        self._net((x + 2.6, y), part.pins["1"], "right")

    def _driver_supply(self, y: float) -> None:
        """Where the pins of the gates' chip go that no row shows."""
        for part in self._circuit.of_kind("driver"):
            grounded = ", ".join(pin for pin, net in part.pins.items() if net == GROUND and pin != "7")
            what = "output enables" if len(grounded.split()) == _GATES else "output enables and unused input"
            text = f"{part.ref}  {part.value}: pin 14 to {part.pins['14']}, pin 7 to GND, {what} {grounded} to GND"
            self._text(_LEFT - 1.0, y + 0.6, text, align="left")

    def _decoupling(self, y: float) -> None:
        """Capacitors side by side, each between a supply and ground."""
        x = _LEFT
        for part in self._circuit.of_kind("capacitor"):
            polar = part.value.endswith("µF")
            self._drawing += (elm.Capacitor2() if polar else elm.Capacitor()).at((x, y)).to((x, y - 1.6))
            self._net((x, y), part.pins["1"], "up")
            self._net((x, y - 1.6), part.pins["2"], "down")
            self._text(x + 0.75, y - 0.8, f"{part.ref}\n{part.value}", align="left")
            x += 2.9

    def _series_rows(self, x: float) -> None:
        """Lines straight into the Pico, in two columns."""
        rows = [path for path in self._circuit.paths if path.kind == "series"]
        for place, path in enumerate(rows):
            part = self._circuit.parts[path.parts[0]]
            at = (x + 2.0 + 10.5 * (place % 2), -1.7 * (place // 2))
            self._net(at, part.pins["1"], "left")
            self._two_pins(elm.Resistor(), part, at, 2.6)
            self._net((at[0] + 2.6, at[1]), part.pins["2"], "right")

    # Small change.

    def _two_pins(
        self, symbol: elm.Element2Term, part: Part, at: tuple[float, float], length: float, more: str = ""
    ) -> None:
        self._drawing += symbol.at(at).to((at[0] + length, at[1]))
        self._text(at[0] + length / 2, at[1] + 0.75, f"{part.ref}  {more or part.value}")

    def _branch(self, part: Part, joint: tuple[float, float]) -> None:
        """A pull from a joint down to where it pulls."""
        x, y = joint
        self._drawing += elm.Resistor().at((x, y)).to((x, y - 1.5))
        self._net((x, y - 1.5), part.pins["2"], "down")
        self._text(x + 0.5, y - 0.8, f"{part.ref}  {part.value}", align="left")

    def _net(self, at: tuple[float, float], name: str, side: _Side, lead: float = 0.4) -> None:
        x, y = at
        if side in ("up", "down"):
            if name == GROUND:
                self._drawing += elm.Ground().at((x, y))
            else:
                way = 0.4 if side == "up" else -0.4
                self._drawing += elm.Line().at((x, y)).to((x, y + way))
                self._text(x, y + (1.75 if side == "up" else 2.2) * way, name)
            return
        step = -lead if side == "left" else lead
        self._drawing += elm.Line().at((x, y)).to((x + step, y))
        gap = -0.15 if side == "left" else 0.15
        self._text(x + step + gap, y - 0.12, name, align="right" if side == "left" else "left")

    def _text(self, x: float, y: float, text: str, align: Literal["left", "center", "right"] = "center") -> None:
        self._drawing += (
            elm.Label().at((x, y)).theta(0).label(text, loc="center", halign=align, valign="center", ofst=0)
        )


def _function(part: Part, pin: str) -> str:
    """What stands inside the box at a pin."""
    if part.kind == "board":
        return part.pins[pin]
    if part.kind == "resistor network":
        return "common" if pin == "1" else f"R{int(pin) - 1}"
    number = int(pin)
    if 2 <= number <= 9:
        return f"A{number - 1}"
    if 11 <= number <= 18:
        return f"B{19 - number}"
    return {"1": "DIR", "10": "GND", "19": "OE", "20": "VCC"}[pin]


def _role(role: str) -> str:
    return pin_map.ROLES[role][1].split(",")[0]


def _settled(svg: str) -> str:
    """The same bytes for the same drawing."""
    return re.sub(r"\s+\n", "\n", svg).rstrip() + "\n"
