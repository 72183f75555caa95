"""The lists a builder works from: parts to buy, wires to lay, pins of the board."""

from __future__ import annotations

import csv
import io
import json

from handtick.hardware.circuit import BOARD_SUPPLY, GROUND, MACHINE_SUPPLY, Circuit
from handtick.settings_page import pin_table

_SUPPLIES = (GROUND, BOARD_SUPPLY, MACHINE_SUPPLY)


def parts_csv(circuit: Circuit) -> str:
    """Parts alike in a row: refs, value, package, how many, what may stand in its place, why."""
    rows: dict[tuple[str, str, str, str], list[str]] = {}
    for part in circuit.parts.values():
        why = (
            "at the supply pins of each chip, as near as it goes" if part.why.startswith("at the supply") else part.why
        )
        rows.setdefault((part.value, f"{part.kind}, {part.package}", part.instead, why), []).append(part.ref)
    file = io.StringIO()
    writer = csv.writer(file, lineterminator="\n")
    writer.writerow(["parts", "value", "package", "how many", "in its place", "why"])
    for (value, package, instead, why), refs in rows.items():
        writer.writerow([" ".join(refs), value, package, len(refs), instead, why])
    return file.getvalue()


def wiring_page(circuit: Circuit) -> str:
    """The breadboard wiring list as a page: every net with the pins on it, supplies first."""
    nets = circuit.nets()
    lines = [
        f"# Wiring list: {circuit.name}",
        "",
        f"{circuit.title}. Read [the cautions](../../docs/cautions.md) first: lay wires with every supply off.",
        "",
        *(["![schematic](schematic.svg)", ""] if circuit.paths else []),
        *(f"- {note}" for note in circuit.notes),
        "",
        "A pin is written PART.PIN" + ("; the Pico is U1" if circuit.paths else "") + ". Pin numbers are those of the "
        "packages in the parts list, counted from the notch. Tick each wire off as you lay it.",
        "",
        "| net | what is on it |",
        "|---|---|",
    ]
    order = [*(net for net in _SUPPLIES if net in nets), *(net for net in nets if net not in _SUPPLIES)]
    lines += [f"| {net} | {', '.join(f'{ref}.{pin}' for ref, pin in nets[net])} |" for net in order]
    return "\n".join(lines) + "\n"


def netlist_json(circuit: Circuit) -> str:
    """The netlist for programs: every part with its pins and nets, as the electrical check reads it."""
    parts = {
        part.ref: {"kind": part.kind, "value": part.value, "package": part.package, "pins": part.pins}
        for part in circuit.parts.values()
    }
    return json.dumps({"circuit": circuit.name, "parts": parts}, indent=1, ensure_ascii=False) + "\n"


def pins_page() -> str:
    """The pin table of every profile as a page."""
    return (
        "# Pins\n\nWhich pin of a Raspberry Pi Pico does what in each pin profile (`HANDTICK_PROFILE`); made from the "
        "firmware's pin map. Pin numbers of the package are in the wiring lists.\n\n" + pin_table()
    )
