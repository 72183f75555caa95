"""The firmware onto a drive: complete, verified, and never half of one and half of another without saying so."""

from __future__ import annotations

import hashlib
import os
import random
import shutil
import subprocess
from collections.abc import Callable, Mapping
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from handtick.errors import HandtickError, Refused, UsageError
from handtick.install import DriveFiles, Folder, Plan, compare, install, make_plan
from handtick.install.drive import check_version
from handtick.install.plan import LIBRARIES, MARKER, OWN_PROGRAMS, PROGRAMS, SETTINGS

PLAN = make_plan()
#: What the firmware of an earlier version left.
EARLIER = {
    **{name: data + b"\n# earlier\n" for name, data in PLAN.files.items()},
    "lib/handtick_board/gone.py": b"# no longer there\n",
    SETTINGS: b'HANDTICK_RATE = "20"\n',
}
#: What somebody else's program left.
SOMEBODYS = {"code.py": b"print('mine')\n", "boot.py": b"x = 1\n", "lib/mine.py": b"y = 2\n", "data.txt": b"z"}


class Cut(Exception):  # noqa: N818 - reads as what happened
    """The cable was pulled."""


class Counting:
    """A drive that is cut off after so many bytes and steps: what was being written stays as far as it came."""

    def __init__(self, drive: DriveFiles, budget: float) -> None:
        self.spent = 0
        self._drive = drive
        self._budget = budget

    def read(self, name: str) -> bytes | None:
        """See ``DriveFiles``."""
        return self._drive.read(name)

    def write(self, name: str, data: bytes) -> None:
        """Writes as much as there is budget for."""
        self._spend(1, lambda: None)
        left = self._budget - self.spent
        if len(data) > left:
            self._drive.write(name, data[: int(left)])
            raise Cut
        self._drive.write(name, data)
        self.spent += len(data)

    def rename(self, name: str, new_name: str) -> None:
        """See ``DriveFiles``."""
        self._spend(1, lambda: self._drive.rename(name, new_name))

    def remove(self, name: str) -> None:
        """See ``DriveFiles``."""
        self._spend(1, lambda: self._drive.remove(name))

    def names(self, folder: str) -> list[str]:
        """See ``DriveFiles``."""
        return self._drive.names(folder)

    @property
    def free(self) -> int:
        """See ``DriveFiles``."""
        return self._drive.free

    def _spend(self, cost: int, deed: Callable[[], None]) -> None:
        if self.spent + cost > self._budget:
            raise Cut
        self.spent += cost
        deed()


class FatImage:
    """A FAT file system in a file, through mtools."""

    free = 1 << 20

    def __init__(self, path: Path) -> None:
        self.path = path
        self._env = {**os.environ, "MTOOLS_SKIP_CHECK": "1"}

    @classmethod
    def made(cls, path: Path) -> FatImage:
        """A new one of a megabyte."""
        subprocess.run(["mkfs.vfat", "-F", "12", "-C", path, "1024"], check=True, capture_output=True)
        return cls(path)

    def read(self, name: str) -> bytes | None:
        """See ``DriveFiles``."""
        shown = self._tool("mtype", "-i", self.path, f"::{name}")
        return shown.stdout if shown.returncode == 0 else None

    def write(self, name: str, data: bytes) -> None:
        """See ``DriveFiles``."""
        parts = name.split("/")[:-1]
        for depth in range(len(parts)):
            self._tool("mmd", "-i", self.path, "-D", "s", "::" + "/".join(parts[: depth + 1]))
        assert self._tool("mcopy", "-o", "-i", self.path, "-", f"::{name}", data=data).returncode == 0, name

    def rename(self, name: str, new_name: str) -> None:
        """See ``DriveFiles``."""
        self.remove(new_name)
        assert self._tool("mren", "-i", self.path, f"::{name}", f"::{new_name}").returncode == 0

    def remove(self, name: str) -> None:
        """See ``DriveFiles``."""
        self._tool("mdel", "-i", self.path, f"::{name}")

    def names(self, folder: str) -> list[str]:
        """See ``DriveFiles``."""
        shown = self._tool("mdir", "-b", "-i", self.path, f"::{folder}")
        lines = [line.removeprefix("::/") for line in shown.stdout.decode().splitlines()]
        return sorted(line for line in lines if shown.returncode == 0 and not line.endswith("/"))

    def unpacked(self, folder: Path) -> Folder:
        """All of its files in a folder."""
        folder.mkdir()
        assert self._tool("mcopy", "-s", "-i", self.path, "::", folder).returncode == 0
        for path in folder.iterdir():
            # FAT knows no case, and mtools writes a name it has changed in capitals.
            path.rename(folder / path.name.lower())
        return Folder(folder)

    def _tool(self, *words: object, data: bytes | None = None) -> subprocess.CompletedProcess[bytes]:
        return subprocess.run(
            [str(word) for word in words], input=data, capture_output=True, env=self._env, check=False
        )


class Watched:
    """A FAT drive that is copied at chosen points of an installation, as if it were cut off there, and looked at."""

    def __init__(self, drive: FatImage, points: list[int], folder: Path) -> None:
        self.looked = 0
        self._drive = drive
        self._points = points
        self._folder = folder
        self._spent = 0

    def read(self, name: str) -> bytes | None:
        """See ``DriveFiles``."""
        return self._drive.read(name)

    def write(self, name: str, data: bytes) -> None:
        """See ``DriveFiles``."""
        self._look(1 + len(data), lambda drive, done: drive.write(name, data[: max(0, done - 1)]) if done else None)
        self._drive.write(name, data)

    def rename(self, name: str, new_name: str) -> None:
        """See ``DriveFiles``."""
        self._look(1, lambda drive, done: None)
        self._drive.rename(name, new_name)

    def remove(self, name: str) -> None:
        """See ``DriveFiles``."""
        self._look(1, lambda drive, done: None)
        self._drive.remove(name)

    def names(self, folder: str) -> list[str]:
        """See ``DriveFiles``."""
        return self._drive.names(folder)

    @property
    def free(self) -> int:
        """See ``DriveFiles``."""
        return self._drive.free

    def _look(self, cost: int, begin: Callable[[FatImage, int], None]) -> None:
        while self._points and self._points[0] < self._spent + cost:
            point = self._points.pop(0)
            cut = FatImage(Path(shutil.copy(self._drive.path, self._folder / "cut.img")))
            begin(cut, point - self._spent)
            assert_honest(cut.unpacked(self._folder / f"cut{self.looked}"), EARLIER)
            self.looked += 1
        self._spent += cost


def filled(drive: DriveFiles, files: Mapping[str, bytes]) -> DriveFiles:
    """The drive with files on it."""
    for name, data in files.items():
        drive.write(name, data)
    return drive


def whole_cost(before: Mapping[str, bytes], folder: Path) -> int:
    """What a whole installation over ``before`` costs in bytes and steps."""
    counting = Counting(filled(Folder(folder), before), float("inf"))
    install(counting, PLAN)
    return counting.spent


def is_as_it_was(drive: DriveFiles, before: Mapping[str, bytes]) -> bool:
    """Whether every file is what it was."""
    return all(drive.read(name) == data for name, data in before.items())


def assert_honest(drive: DriveFiles, before: Mapping[str, bytes]) -> None:
    """The drive is as before, or complete, or says that it is incomplete; and somebody's own files are whole."""
    marked = drive.read(MARKER) is not None
    if not marked:
        assert is_as_it_was(drive, before) or not compare(drive, PLAN)
    for name in PROGRAMS:
        # Never half a program; one that is the new one looks for the marker.
        assert drive.read(name) in (before.get(name), PLAN.files[name])
    for name in ("lib/mine.py", "data.txt", SETTINGS):
        if name in before:
            assert drive.read(name) == before[name]
    for name in PROGRAMS:
        if name in before and drive.read(name) != before[name]:
            assert drive.read(name.replace(".", "_before_handtick.")) == before[name]


@pytest.mark.fault(
    "board",
    "installation cut off anywhere",
    "a board that says it is incomplete, or one that works",
)
@settings(max_examples=100 if os.environ.get("HANDTICK_LONG") else 25)
@given(share=st.floats(0, 1), before=st.sampled_from([{}, EARLIER, SOMEBODYS]))
def test_installation_cut_off_anywhere_leaves_an_honest_drive(
    share: float, before: Mapping[str, bytes], tmp_path_factory: pytest.TempPathFactory
) -> None:
    """Whatever was on the drive and wherever the cable is pulled; and the next installation completes it."""
    cost = whole_cost(before, tmp_path_factory.mktemp("whole"))
    drive = filled(Folder(tmp_path_factory.mktemp("cut")), before)
    with pytest.raises(Cut):
        install(Counting(drive, int(share * (cost - 1))), PLAN)
    assert_honest(drive, before)
    install(drive, PLAN)
    assert compare(drive, PLAN) == []
    assert_honest(drive, before)


@pytest.mark.skipif(
    shutil.which("mcopy") is None or shutil.which("mkfs.vfat") is None, reason="needs mtools and dosfstools"
)
def test_installation_onto_a_fat_drive_cut_off_at_a_hundred_points(tmp_path: Path) -> None:
    """The same on a real FAT file system."""
    chance = random.Random(7)
    cost = whole_cost(EARLIER, tmp_path / "whole")
    start = filled(FatImage.made(tmp_path / "start.img"), EARLIER)
    assert isinstance(start, FatImage)
    # One installation onto one drive, copied at a hundred points on the way and cut off there.
    drive = FatImage(Path(shutil.copy(start.path, tmp_path / "drive.img")))
    points = sorted(chance.randrange(cost) for _ in range(100))
    watched = Watched(drive, points, tmp_path)
    install(watched, PLAN)
    assert watched.looked == 100
    assert compare(drive, PLAN) == []


def test_installation_is_verified_and_keeps_settings(tmp_path: Path) -> None:
    """A complete drive holds the plan, no marker, and the settings that were there."""
    drive = Folder(tmp_path)
    drive.write(SETTINGS, b'HANDTICK_RATE = "5"\n')
    told: list[str] = []
    install(drive, PLAN, told.append)
    assert compare(drive, PLAN) == []
    assert drive.read(SETTINGS) == b'HANDTICK_RATE = "5"\n'
    assert told[-2:] == ["boot.py", "code.py"]
    assert {f"lib/{name}.py" for name in LIBRARIES} <= set(told)
    told.clear()
    install(drive, PLAN, told.append)
    assert told == [], "what is as it should be is not written again"


def kept(drive: Folder) -> dict[str, bytes | None]:
    """Programs that are kept beside, by name."""
    return {path.name: drive.read(path.name) for path in sorted(drive.path.glob("*_before_handtick*"))}


def test_program_that_only_speaks_of_handtick_is_kept(tmp_path: Path) -> None:
    """It is its owner's, whatever it says, and so is handtick's own with a line of somebody's in it."""
    mine, changed = b"# a display to be used beside handtick\n", PLAN.files["boot.py"] + b"import storage\n"
    drive = Folder(tmp_path)
    drive.write("code.py", mine)
    drive.write("boot.py", changed)
    told: list[str] = []
    install(drive, PLAN, told.append)
    assert kept(drive) == {"boot_before_handtick.py": changed, "code_before_handtick.py": mine}
    assert told[-4:] == ["boot_before_handtick.py", "boot.py", "code_before_handtick.py", "code.py"]


def test_every_program_that_is_replaced_is_kept(tmp_path: Path) -> None:
    """A later one beside the earlier ones, each once, and no more for installing again and again."""
    drive = Folder(tmp_path)
    for program in (b"first", b"second", b"second", b"first", b"third"):
        drive.write("code.py", program)
        install(drive, PLAN)
        install(drive, PLAN)
    assert kept(drive) == {
        "code_before_handtick.py": b"first",
        "code_before_handtick_2.py": b"second",
        "code_before_handtick_3.py": b"third",
    }


def test_programs_of_earlier_versions_are_known_as_own() -> None:
    """No copy of them is kept; the list has those of this version too, for the versions that come after it."""
    for name in PROGRAMS:
        assert hashlib.sha256(PLAN.files[name]).hexdigest() in OWN_PROGRAMS, f"add the digest of {name} to OWN_PROGRAMS"


def test_earlier_program_of_handtick_is_not_kept(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It is replaced, and that is all."""
    drive, earlier = Folder(tmp_path), b"print('an earlier one')"
    drive.write("code.py", earlier)
    digests = {hashlib.sha256(earlier).hexdigest()}
    monkeypatch.setattr("handtick.install.steps.OWN_PROGRAMS", digests)
    install(drive, PLAN)
    assert kept(drive) == {}


def test_drive_that_forgets_is_found_out(tmp_path: Path) -> None:
    """A file that reads back otherwise is an error, and the marker stays."""

    class Forgetful(Folder):
        """Loses a byte of a long file."""

        def write(self, name: str, data: bytes) -> None:
            """Writes almost all."""
            super().write(name, data[:-1] if len(data) > 5000 else data)

    drive = Forgetful(tmp_path)
    with pytest.raises(HandtickError, match="reads back otherwise"):
        install(drive, PLAN)
    assert drive.read(MARKER) is not None


@pytest.mark.fault(
    "board",
    "a drive without room",
    "how much is missing; nothing is written",
)
def test_drive_without_room_is_refused_before_anything_is_written(tmp_path: Path) -> None:
    """The numbers are told."""

    class Full(Folder):
        """Has little room."""

        free = 1000

    with pytest.raises(Refused, match=r"has 1000 bytes free and \d+ are needed"):
        install(Full(tmp_path), PLAN)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("text", "says"),
    [
        (
            "Adafruit CircuitPython 9.2.8 on 2025-05-28; Raspberry Pi Pico with rp2040",
            "CircuitPython 9.2 is on the board",
        ),
        ("Adafruit CircuitPython 11.0.0-alpha.1 on 2026-11-01; x", "needs 10.x"),
        ("MicroPython v1.27", "names no CircuitPython version"),
        ("", "names no CircuitPython version"),
    ],
)
def test_other_versions_are_refused_with_where_the_instructions_are(text: str, says: str) -> None:
    """Only CircuitPython 10 is written to."""
    with pytest.raises(Refused) as caught:
        check_version(text, "/media/CIRCUITPY")
    assert says in str(caught.value)
    assert "/media/CIRCUITPY" in str(caught.value)


def test_kind_of_board_is_read() -> None:
    """From what CircuitPython writes at its start."""
    text = "Adafruit CircuitPython 10.0.3 on 2025-10-17; a board\nBoard ID:raspberry_pi_pico\nUID:1\n"
    assert check_version(text, "x") == "raspberry_pi_pico"


def test_another_compiler_is_refused(tmp_path: Path) -> None:
    """What compiles for something else than CircuitPython is found out by what it writes."""
    fake = tmp_path / "mpy-cross"
    fake.write_text('#!/bin/sh\nprintf "M\\006" > "$4"\n')
    fake.chmod(0o755)
    with pytest.raises(UsageError, match="not CircuitPython's compiler"):
        make_plan(fake)
    with pytest.raises(UsageError, match="no such file"):
        make_plan(tmp_path / "none")


def test_compiled_modules_take_the_place_of_source(tmp_path: Path) -> None:
    """With CircuitPython's own compiler every module is compiled, and what was there as source goes away."""
    fake = tmp_path / "mpy-cross"
    fake.write_text('#!/bin/sh\n{ printf "C\\006"; cat "$5"; } > "$4"\n')
    fake.chmod(0o755)
    (tmp_path / "drive").mkdir()
    drive = Folder(tmp_path / "drive")
    install(drive, PLAN)
    plan = make_plan(fake)
    assert plan.compiled
    install(drive, plan)
    assert compare(drive, plan) == []
    assert [name for name in drive.names("lib/handtick_board") if name.endswith(".py")] == []
    assert drive.names("lib") == ["lib/adafruit_debouncer.mpy", "lib/adafruit_ticks.mpy"]
    assert drive.read("lib/handtick_board/start.mpy") is not None


def test_plan_is_the_firmware_folder() -> None:
    """The drive gets exactly what is in firmware/, and the two libraries."""
    firmware = Path(__file__).parents[2] / "firmware"
    there = {str(path.relative_to(firmware)): path.read_bytes() for path in firmware.rglob("*.py")}
    libraries = {f"lib/{name}.py" for name in LIBRARIES}
    assert {name: data for name, data in PLAN.files.items() if name not in libraries} == there
    assert (firmware / SETTINGS).read_bytes() == PLAN.settings
    assert isinstance(PLAN, Plan)
