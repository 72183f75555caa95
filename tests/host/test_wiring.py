"""The wiring file: names for probes, and what is said when it can't be read."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from handtick.errors import UsageError
from handtick.wiring import Bus, Wiring, load_wiring
from handtick.wiring.load import KEYS
from handtick.wiring.write import wiring_text

WHOLE = """\
[bus.data]
probes = "0..7"

[bus.giver]
probes = [8, 9, 10]
names = { 0 = "program", 1 = "tally", 0b111 = "operand" }

[bus.control]
probes = "8..15"
show = "binary"
fields = { giver = [0, 3], taker = [3, 4] }

[line.fetch]
probe = 15

[line.write]
probe = 14
inverted = true

[instruction]
start = "fetch"
equals = 1
address = "data"
listing = { 0x0A = "gauge -> operand" }
longest = 4
"""

#: A wrong file for every key, the line that is wrong, and what is said of it.
WRONG = {
    ("", "buses"): ("[buses.data]\nprobes = [1]\n", 1, "no such key"),
    ("", "bus"): ("bus = 3\n", 1, "takes a table"),
    ("", "line"): ("[line.x]\nprobe = 1\n[bus.x]\nprobes = [2]\n", 1, "has that name already"),
    ("", "instruction"): ("instruction = true\n", 1, "takes a table"),
    ("bus", "probes"): ("[bus.data]\n\nprobes = [0, 56]\n", 3, "56 is given; it takes a whole number from 0 to 55"),
    ("bus", "probes twice"): ("[bus.data]\nprobes = [0, 0]\n", 2, "stands there twice"),
    ("bus", "probes text"): ('[bus.data]\nprobes = "7..x"\n', 2, "give probe numbers"),
    ("bus", "probes missing"): ("[bus.data]\nshow = 'hex'\n", 1, "give probe numbers"),
    ("bus", "probes true"): ("[bus.data]\nprobes = [true]\n", 2, "True is given"),
    ("bus", "show"): ('[bus.data]\nprobes = [0]\nshow = "octal"\n', 3, "none of hex, binary, decimal, names"),
    ("bus", "inverted"): ("[bus.data]\nprobes = [0]\ninverted = 1\n", 3, "neither true nor false"),
    ("bus", "names"): ('[bus.data]\nprobes = [0, 1]\n[bus.data.names]\n1 = "a"\n4 = "b"\n', 5, "are 0 to 3"),
    ("bus", "names word"): ("[bus.data]\nprobes = [0, 1]\nnames = { 1 = 2 }\n", 3, "a text in quotes"),
    ("bus", "fields"): ("[bus.data]\nprobes = [0, 1]\nfields = { x = [1, 2] }\n", 3, "from 1 to 1"),
    ("bus", "fields shape"): ("[bus.data]\nprobes = [0, 1]\nfields = { x = 1 }\n", 3, "lowest bit, how many bits"),
    ("bus", "steady"): ('[bus.data]\nprobes = [0]\nsteady = "always"\n', 3, "the phases of the clock"),
    ("bus", "drivers"): ('[bus.data]\nprobes = [0]\ndrivers = ["none"]\n', 3, "no line of this file"),
    ("bus", "drivers shape"): ('[bus.data]\nprobes = [0]\ndrivers = "x"\n', 3, "names of lines"),
    ("line", "steady"): ("[line.fetch]\nprobe = 3\nsteady = 1\n", 3, "the phases of the clock"),
    ("line", "probe"): ('[line.fetch]\nprobe = "3"\n', 2, "'3' is given"),
    ("line", "probe missing"): ("[line.fetch]\n", 1, "nothing is given"),
    ("line", "inverted"): ('[line.fetch]\nprobe = 1\ninverted = "yes"\n', 3, "neither true nor false"),
    ("instruction", "start"): ('[instruction]\nstart = "fetch"\n', 2, "no bus or line of this file"),
    ("instruction", "equals"): ('[line.f]\nprobe = 1\n[instruction]\nstart = "f"\nequals = 2\n', 5, "from 0 to 1"),
    ("instruction", "address"): (
        '[line.f]\nprobe = 1\n[instruction]\nstart = "f"\naddress = "a"\n',
        5,
        "no bus or line",
    ),
    ("instruction", "listing"): (
        '[line.f]\nprobe = 1\n[instruction]\nstart = "f"\nlisting = { 1 = "x" }\n',
        5,
        "needs the bus its addresses are on",
    ),
    ("", "start"): ("start = 1\n", 1, "takes a table"),
    ("start", "hand"): ("[start]\nhand = 3\n", 2, "a line of text"),
    ("start", "command"): ('[start]\ncommand = "load"\n', 2, "a list of words"),
    ("start", "check"): ("[start]\ncheck = [1]\n", 2, "a list of words"),
    ("start", "same"): ("[start]\nsame = -1\n", 2, "from 0 to"),
    ("", "clock"): ("clock = 1\n", 1, "takes a table"),
    ("clock", "may_stop"): ('[clock]\nmay_stop = "never"\n', 2, "is none of yes, low, high, no"),
    ("clock", "longest_high_us"): ("[clock]\nlongest_high_us = -1\n", 2, "from 0 to"),
    ("clock", "longest_low_us"): ('[clock]\nlongest_low_us = "5"\n', 2, "from 0 to"),
    ("clock", "ready"): ('[clock]\nready = "up"\n', 2, 'neither "high" nor "low"'),
    ("clock", "ready_ignored"): ('[clock]\nready_ignored = "write"\n', 2, "needs the ready line's level"),
    ("clock", "ready_ignored line"): ('[clock]\nready = "low"\nready_ignored = "none"\n', 3, "no line of this file"),
    ("clock", "ready_ignored_at"): ("[clock]\nready_ignored_at = 2\n", 2, "from 0 to 1"),
    ("instruction", "longest"): ('[line.f]\nprobe = 1\n[instruction]\nstart = "f"\nlongest = 0\n', 5, "from 1 to"),
}


def load(text: str, folder: Path) -> Wiring:
    """Loads a file with this text."""
    path = folder / "wiring.toml"
    path.write_text(text, encoding="utf-8")
    return load_wiring(path)


def test_buses_are_read_and_shown_as_the_file_says(tmp_path: Path) -> None:
    """Polarity, names, numbers and fields come out of a sample."""
    wiring = load(WHOLE, tmp_path)
    sample = 0xCF0A
    assert wiring.values(sample) == {"data": 0x0A, "giver": 7, "control": 0xCF, "fetch": 1, "write": 0}
    shown = {bus.name: bus.text(bus.value(sample)) for bus in wiring.buses}
    assert shown == {"data": "0A", "giver": "operand", "control": "11001111", "fetch": "1", "write": "0"}
    assert wiring.bus("control").field_values(0xCF) == {"giver": 7, "taker": 9}
    assert wiring.begins_instruction(sample)
    assert wiring.instruction_words(sample) == "gauge -> operand"
    assert wiring.instruction_words(0x800B) == ""


@pytest.mark.fault(
    "person",
    "every mistake a wiring file can have",
    "file, line, key and what is wrong",
)
@pytest.mark.parametrize("key", WRONG, ids=lambda key: ".".join(filter(None, key)))
def test_mistakes_are_told_with_file_line_and_key(key: tuple[str, str], tmp_path: Path) -> None:
    """A wrong value is refused in one line that says where it stands."""
    text, line, says = WRONG[key]
    with pytest.raises(UsageError) as caught:
        load(text, tmp_path)
    message = str(caught.value)
    assert f"wiring.toml': line {line}, " in message
    assert says in message
    assert key[1].split()[0].split(".")[-1] in message
    assert "\n" not in message


def test_every_key_has_a_mistake_of_its_own() -> None:
    """A new key of the wiring file needs a row in the table of mistakes."""
    rows = {(kind, key.split()[0]) for kind, key in WRONG}
    assert {(kind, key) for kind, keys in KEYS.items() for key in keys} <= rows


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"\xff\xfe", "not UTF-8"),
        (b"[bus.x\n", "line 1"),
        (b"x = " + b"[" * 5000, "wiring file"),
        (b"#" * 1_000_001, "larger than a megabyte"),
    ],
    ids=["bytes", "syntax", "depth", "size"],
)
def test_files_that_are_no_toml_are_told_so(data: bytes, says: str, tmp_path: Path) -> None:
    """Whatever is in the file, the answer is a line."""
    path = tmp_path / "wiring.toml"
    path.write_bytes(data)
    with pytest.raises(UsageError, match="wiring file") as caught:
        load_wiring(path)
    assert says in str(caught.value)


def test_missing_files_and_folders_are_told_so(tmp_path: Path) -> None:
    """A file that is not there."""
    with pytest.raises(UsageError, match="no such file"):
        load_wiring(tmp_path / "none.toml")
    with pytest.raises(UsageError, match="is a directory"):
        load_wiring(tmp_path)


NAMES = st.text(st.characters(exclude_categories=["C", "Z"]), min_size=1, max_size=8)


@given(
    names=st.lists(NAMES, unique=True, max_size=5),
    order=st.permutations(range(16)),
    widths=st.lists(st.integers(1, 3), min_size=5, max_size=5),
)
def test_written_files_read_back_as_the_same_names(
    names: list[str], order: list[int], widths: list[int], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Whatever the buses are called."""
    taken = iter(order)
    buses = [
        Bus(name, tuple(next(taken) for _ in range(width)), "hex" if width > 1 else "decimal")
        for name, width in zip(names, widths, strict=False)
    ]
    path = tmp_path_factory.mktemp("w") / "wiring.toml"
    path.write_text(wiring_text(buses), encoding="utf-8")
    assert sorted(load_wiring(path).buses, key=lambda bus: bus.name) == sorted(buses, key=lambda bus: bus.name)
