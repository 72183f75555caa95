"""The circuits in hardware/: what the pin map gives, electrically whole, and drawn so that they can be read."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from pathlib import Path

import pytest

from handtick.hardware.__main__ import main
from handtick.hardware.circuit import BOARD_SUPPLY, GROUND, MACHINE_SUPPLY, Circuit
from handtick.hardware.files import hardware_files
from handtick.hardware.pico import PICO_PINS
from handtick.hardware.variants import variants
from handtick_board import pin_map

ROOT = Path(__file__).parents[2]
VARIANTS = variants()
#: Pins that drive their net, by kind of part.
DRIVING = {"driver": ("3", "6", "8", "11"), "input buffer": tuple(str(pin) for pin in range(11, 19))}
#: Inputs that must not be left open.
INPUTS = {
    "driver": ("1", "2", "4", "5", "9", "10", "12", "13"),
    "input buffer": ("1", "19", *(str(pin) for pin in range(2, 10))),
}


def each(*kinds: str) -> list[tuple[Circuit, str]]:
    """Every part of these kinds in every variant, as (circuit, ref)."""
    return [(circuit, part.ref) for circuit in VARIANTS.values() for kind in kinds for part in circuit.of_kind(kind)]


def test_committed_files_are_what_the_pin_map_gives() -> None:
    """No schematic, list or table in hardware/ has drifted from the firmware's pin map."""
    for name, text in hardware_files().items():
        assert (ROOT / "hardware" / name).read_text(encoding="utf-8") == text, f"{name}: run make hardware"


def test_changed_file_is_named_and_written_again(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Checking names what differs; writing mends it."""
    assert main([str(tmp_path)]) == 0
    (tmp_path / "5v" / "parts.csv").write_text("nothing", encoding="utf-8")
    assert main([str(tmp_path), "--check"]) == 1
    assert "parts.csv" in capsys.readouterr().err
    assert main([str(tmp_path)]) == 0
    assert main([str(tmp_path), "--check"]) == 0


@pytest.mark.parametrize("circuit", VARIANTS.values(), ids=VARIANTS)
def test_every_pin_of_the_profile_is_wired(circuit: Circuit) -> None:
    """Each role and probe of the pin profile has its pin of the Pico, and no other pin is there."""
    roles, probes, _ = pin_map.PROFILES[circuit.profile]
    wanted = {pin for pin in [*roles.values(), *probes] if pin in PICO_PINS}
    board = next(circuit.of_kind("board"))
    assert {net for net in board.pins.values() if net.startswith("GP")} == wanted
    for pin, net in board.pins.items():
        if net.startswith("GP"):
            assert PICO_PINS[net] == pin
    for pin in wanted:
        assert len(circuit.nets()[pin]) >= 2, f"{pin} leads nowhere"


@pytest.mark.parametrize("circuit", VARIANTS.values(), ids=VARIANTS)
def test_no_net_is_driven_twice(circuit: Circuit) -> None:
    """No output works against another, or against a supply."""
    driven = Counter(
        part.pins[pin] for part in circuit.parts.values() for pin in DRIVING.get(part.kind, ()) if pin in part.pins
    )
    roles, _, _ = pin_map.PROFILES[circuit.profile]
    driven.update(roles[role] for role in ("clock", "inverse_clock", "reset", "ready", "tug") if role in roles)
    assert max(driven.values()) == 1
    assert not set(driven) & {GROUND, BOARD_SUPPLY, MACHINE_SUPPLY}


@pytest.mark.parametrize(("circuit", "ref"), each("driver", "input buffer"))
def test_no_input_is_left_open(circuit: Circuit, ref: str) -> None:
    """Every input of a CMOS chip is on a net with something that gives it a level."""
    part = circuit.parts[ref]
    for pin in INPUTS[part.kind]:
        net = part.pins[pin]
        others = [other for other, _ in circuit.nets()[net] if other != ref]
        assert net in (GROUND, BOARD_SUPPLY) or others, f"{ref} pin {pin}"


@pytest.mark.parametrize("name", ["3v3", "5v", "5v-tug"])
def test_lines_to_the_machine_rest_while_the_pico_drives_nothing(name: str) -> None:
    """With the Pico in reset, pulls at the driver's inputs keep the clock low, its inverse high and reset released."""
    circuit = VARIANTS[name]
    levels = {"clock": GROUND, "inverse_clock": BOARD_SUPPLY, "reset": BOARD_SUPPLY, "ready": GROUND}
    for path in circuit.paths:
        if path.kind == "out":
            _, pull, end = (circuit.parts[ref] for ref in path.parts)
            assert pull.pins["2"] == levels[path.role]
            assert end.value == "47 Ω"
    assert sum(path.kind == "out" for path in circuit.paths) == (3 if name == "5v-tug" else 4)


def test_tug_reaches_every_probe_by_100_k_and_no_pin_of_the_pico() -> None:
    """Each probe's wire hangs on the tug's net by one resistor; the pin is behind a gate, and pulled high."""
    circuit = VARIANTS["5v-tug"]
    networks = list(circuit.of_kind("resistor network"))
    assert {part.value for part in networks} == {"8 × 100 kΩ"}
    assert {part.pins["1"] for part in networks} == {"TUG"}
    lines = [net for part in networks for pin, net in part.pins.items() if pin != "1"]
    assert sorted(lines) == sorted(f"PROBE {probe}" for probe in range(16))
    assert "TUG" not in next(circuit.of_kind("board")).pins.values()
    pin = pin_map.PROFILES["tug"][0]["tug"]
    assert any({"1": BOARD_SUPPLY, "2": pin} == part.pins for part in circuit.of_kind("resistor"))


@pytest.mark.parametrize("name", ["5v", "5v-tug"])
def test_nothing_at_5_v_meets_a_pin_of_the_pico(name: str) -> None:
    """In the 5 V variants a machine's line ends at a buffer's input or a divider, never at the Pico."""
    circuit = VARIANTS[name]
    board = set(next(circuit.of_kind("board")).pins.values())
    machine = {net for net in circuit.nets() if net.startswith(("PROBE", "HALT", "CLOCK", "RESET", "READY", "TUG"))}
    assert not board & (machine | {MACHINE_SUPPLY})
    for part in circuit.of_kind("input buffer"):
        assert part.pins["20"] == BOARD_SUPPLY


@pytest.mark.parametrize(("circuit", "ref"), each("driver", "input buffer"))
def test_every_chip_has_its_supply_and_a_capacitor_there(circuit: Circuit, ref: str) -> None:
    """Supply, ground, and 100 nF between them."""
    part = circuit.parts[ref]
    supply = part.pins["14" if part.kind == "driver" else "20"]
    assert part.pins["7" if part.kind == "driver" else "10"] == GROUND
    assert supply == (MACHINE_SUPPLY if part.kind == "driver" else BOARD_SUPPLY)
    assert any(ref in each.why and each.pins == {"1": supply, "2": GROUND} for each in circuit.of_kind("capacitor"))


@pytest.mark.parametrize("name", VARIANTS)
def test_words_of_a_schematic_do_not_lie_on_each_other(name: str) -> None:
    """No two texts of the drawing overlap."""
    svg = hardware_files()[f"{name}/schematic.svg"]
    boxes = []
    for match in re.finditer(
        r'<text x="([-\d.]+)" y="([-\d.]+)"[^>]*font-size="([\d.]+)"[^>]*text-anchor="(\w+)"[^>]*>(.*?)</text>',
        svg,
        re.DOTALL,
    ):
        x, y, size, anchor = float(match[1]), float(match[2]), float(match[3]), match[4]
        words = re.findall(r">([^<]+)<", match[5])
        width = 0.55 * size * max(map(len, words))
        left = {"start": x, "end": x - width, "middle": x - width / 2}[anchor]
        boxes.append((left, y, left + width, y + 0.9 * size * len(words), words))
    assert len(boxes) > 10
    for one, other in itertools.combinations(boxes, 2):
        apart = one[2] <= other[0] or other[2] <= one[0] or one[3] <= other[1] or other[3] <= one[1]
        assert apart, (one[4], other[4])
