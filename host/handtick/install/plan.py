"""What belongs on a board's drive: the firmware, the libraries it imports, and the settings if there are none yet."""

from __future__ import annotations

import importlib.util
import subprocess
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import handtick_board
import handtick_wire
from handtick.errors import HandtickError, UsageError

#: While this file is on the drive, the firmware says that it is incomplete and makes no clock.
MARKER = "handtick_incomplete.txt"
SETTINGS = "settings.toml"
#: What CircuitPython runs; replaced last, in this order.
PROGRAMS = ("boot.py", "code.py")
#: SHA-256 of every program that handtick ever put on a drive; any other is somebody's own. They are only ever added to.
OWN_PROGRAMS = frozenset(
    {
        "6e00dfe6f3eb16822dde59493731f4eda6882e89509e2b7f8509d9e8551b2935",  # boot.py
        "63d202d683e9cf1cd25515bed59d438c87f76c0c4e7667d7ba531f3f15dffe1a",  # boot.py
        "3f5d4ff7b30ef06ed68fd61b0402a40910f9ccdce83462012144c14c20a36db3",  # code.py
        "b34e761ad93c15f9712c23274c79da9186281f5b19f0f04a0261329a00d000a2",  # code.py
        "4e989fe51ffdda2b03076ba5f99c81cdbdde419cc93f4a871e85a8ae6e7f6191",  # code.py
    }
)
#: Folders on the drive that are handtick's alone.
OWN_FOLDERS = ("lib/handtick_board", "lib/handtick_wire")

LIBRARIES = ("adafruit_debouncer", "adafruit_ticks")

# The first byte of what CircuitPython's compiler writes; MicroPython's writes another.
_CIRCUITPYTHON_MPY = b"C"


@dataclass(frozen=True)
class Plan:
    """The files of a complete drive.

    Attributes:
        files: every file but the settings, by its name on the drive, in the order to be written.
        settings: the settings file for a drive that has none.
        compiled: whether modules are compiled.
    """

    files: Mapping[str, bytes]
    settings: bytes
    compiled: bool

    @property
    def size(self) -> int:
        """Bytes of all files together."""
        return sum(len(data) for data in self.files.values()) + len(self.settings)


def make_plan(compiler: Path | None = None) -> Plan:
    """Collects the files.

    Args:
        compiler: CircuitPython's ``mpy-cross``; None to put source on the drive.

    Raises:
        HandtickError: a library is not installed on this computer.
        UsageError: the compiler is not there, or not CircuitPython's.
    """
    modules: dict[str, Path] = {}
    for package in (handtick_wire, handtick_board):
        folder = Path(package.__path__[0])
        for path in sorted(folder.glob("*.py")):
            modules[f"lib/{folder.name}/{path.name}"] = path
    for name in LIBRARIES:
        modules[f"lib/{name}.py"] = _library(name)
    files: dict[str, bytes] = {}
    for name, path in modules.items():
        if compiler is None:
            files[name] = path.read_bytes()
        else:
            files[name.removesuffix(".py") + ".mpy"] = _compiled(compiler, path, name)
    for name in PROGRAMS:
        files[name] = _drive_file(name)
    return Plan(files, _drive_file(SETTINGS), compiler is not None)


def _drive_file(name: str) -> bytes:
    """A file of the drive's top: in the wheel, or in a checkout beside the firmware's packages."""
    for folder in (Path(__file__).parents[1] / "drive", Path(handtick_board.__path__[0]).parents[1]):
        if (folder / name).is_file():
            return (folder / name).read_bytes()
    raise HandtickError(f"this installation of handtick lacks {name}; install handtick again")


def _library(name: str) -> Path:
    spec = importlib.util.find_spec(name)
    if spec is None or spec.origin is None:
        raise HandtickError(
            f"the board needs {name}, which is not installed on this computer; run: pip install 'handtick[board]'"
        )
    return Path(spec.origin)


def _compiled(compiler: Path, path: Path, name: str) -> bytes:
    with tempfile.TemporaryDirectory() as folder:
        made = Path(folder) / "module.mpy"
        try:
            subprocess.run([compiler, "-s", name, "-o", made, path], check=True, capture_output=True)
        except FileNotFoundError as error:
            raise UsageError(f"{compiler}: there is no such file; leave --compiler out to install source") from error
        except (OSError, subprocess.CalledProcessError) as error:
            raise UsageError(f"{compiler} can't compile {name}; leave --compiler out to install source") from error
        data = made.read_bytes() if made.is_file() else b""
    if data[:1] != _CIRCUITPYTHON_MPY:
        raise UsageError(f"{compiler} is not CircuitPython's compiler; leave --compiler out to install source")
    return data
