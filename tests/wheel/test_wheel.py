"""The wheel, as somebody without this repository has it: built, installed in a clean environment, and used."""

from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The wheel, built from this checkout."""
    folder = tmp_path_factory.mktemp("dist")
    _run(sys.executable, "-m", "pip", "wheel", "--quiet", "--no-deps", "--wheel-dir", folder, ROOT)
    (built,) = folder.glob("handtick-*.whl")
    return built


def test_wheel_holds_the_drive_and_nothing_of_the_workshop(wheel: Path) -> None:
    """Both packages of the firmware, the drive's own files and the type marker are in it; tests and docs are not."""
    names = set(zipfile.ZipFile(wheel).namelist())
    assert {
        "handtick/py.typed",
        "handtick/drive/boot.py",
        "handtick/drive/code.py",
        "handtick/drive/settings.toml",
    } <= names
    assert {"handtick_wire/framing.py", "handtick_board/start.py"} <= names
    tops = {name.split("/")[0] for name in names}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"handtick", "handtick_wire", "handtick_board"}


def test_installed_wheel_runs_the_demo_and_fills_a_drive(wheel: Path, tmp_path: Path) -> None:
    """In a clean environment outside the checkout: the demonstration, its log, a drive, and tests of Larch."""
    environment = tmp_path / "venv"
    _run(sys.executable, "-m", "venv", environment)
    scripts = environment / ("Scripts" if os.name == "nt" else "bin")
    _run(scripts / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", f"{wheel}[board]")
    handtick = scripts / "handtick"
    assert _run(handtick, "--version", cwd=tmp_path).startswith("handtick ")
    assert "Larch halted at tick 138" in _run(handtick, "demo", "--quick", cwd=tmp_path)
    assert "ticks 5 to 138" in _run(handtick, "log", "show", "--last", "1", "--log", "demo.sqlite3", cwd=tmp_path)
    drive = tmp_path / "drive"
    drive.mkdir()
    assert "complete" in _run(handtick, "install", "--to", drive, cwd=tmp_path)
    assert "as it should be" in _run(handtick, "install", "--check", "--to", drive, cwd=tmp_path)
    _run(scripts / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", "pytest")
    tests = ["-p", "no:cacheprovider", "-c", os.devnull, "--rootdir", tmp_path, ROOT / "examples" / "tests"]
    wiring = ROOT / "examples" / "larch.toml"
    assert "3 passed" in _run(scripts / "python", "-m", "pytest", "-q", *tests, "--wiring", wiring, cwd=tmp_path)
    there = {str(path.relative_to(drive)): path.read_bytes() for path in drive.rglob("*") if path.is_file()}
    firmware = ROOT / "firmware"
    wanted = {
        str(path.relative_to(firmware)): path.read_bytes()
        for path in firmware.rglob("*")
        if path.suffix in (".py", ".toml")
    }
    libraries = {"lib/adafruit_debouncer.py", "lib/adafruit_ticks.py"}
    assert {name: data for name, data in there.items() if name not in libraries} == wanted
    assert libraries <= set(there)


def _run(*words: object, cwd: Path | None = None) -> str:
    env = {name: value for name, value in os.environ.items() if name not in ("PYTHONPATH", "VIRTUAL_ENV")}
    ended = subprocess.run(
        [*map(str, words)], cwd=cwd, env=env, capture_output=True, text=True, timeout=300, check=False
    )
    assert ended.returncode == 0, ended.stderr[-2000:]
    return ended.stdout
