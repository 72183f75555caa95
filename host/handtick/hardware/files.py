"""Every file of ``hardware/`` by name, as the pin map has it."""

from __future__ import annotations

from handtick.hardware.fan_out import fan_out
from handtick.hardware.lists import netlist_json, parts_csv, pins_page, wiring_page
from handtick.hardware.schematic import schematic_svg
from handtick.hardware.variants import variants


def hardware_files() -> dict[str, str]:
    """Name to text."""
    files = {"pins.md": pins_page()}
    for name, circuit in (variants() | {"fan-out": fan_out()}).items():
        if circuit.paths:
            files[f"{name}/schematic.svg"] = schematic_svg(circuit)
        files[f"{name}/netlist.json"] = netlist_json(circuit)
        files[f"{name}/wiring.md"] = wiring_page(circuit)
        files[f"{name}/parts.csv"] = parts_csv(circuit)
    return files
