"""Every fenced block of the documentation is what it says it is: run, read by its reader, or marked with why not."""

from __future__ import annotations

import os
import re
import shutil
import sqlite3
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

from handtick.log import LogWriter
from tests.docs.test_walks import PAGES as WALKED

ROOT = Path(__file__).parents[2]
PAGES = sorted([*ROOT.glob("*.md"), *(ROOT / "docs").rglob("*.md"), *(ROOT / "hardware").rglob("*.md")])
_BLOCK = re.compile(r"(?:<!-- (not run: [^>]+) -->\n)?```(\w*)\n(.*?)```", re.DOTALL)
#: What is shown and not done: pictures in letters, lines of the wire.
SHOWN = ("", "text", "mermaid")


def found(*languages: str) -> list[tuple[Path, str, str]]:
    """(page, block, mark) of every block in one of these languages."""
    return [
        (page, block, mark)
        for page in PAGES
        for mark, language, block in _BLOCK.findall(page.read_text(encoding="utf-8"))
        if language in languages
    ]


def named(value: object) -> str:
    """A page's name, for the test's."""
    return value.name if isinstance(value, Path) else ""


def test_every_block_has_somebody_who_tries_it() -> None:
    """A block in another language, or commands on a page that is not walked, need a reader or a mark with why."""
    known = (*SHOWN, "console", "python", "toml", "sql", "sh")
    for page in PAGES:
        for mark, language, block in _BLOCK.findall(page.read_text(encoding="utf-8")):
            assert language in known, (page.name, language)
            if language == "console" and not mark:
                assert page in WALKED, f"{page.name} has commands and is not walked"
            if language == "sh":
                assert mark, f"{page.name}: {block.splitlines()[0]!r} is not run, and does not say why"


@pytest.mark.parametrize(("page", "block", "mark"), found("python"), ids=named)
def test_python_runs(page: Path, block: str, mark: str, tmp_path: Path) -> None:
    """A program runs to its end, a test passes, in a folder with the examples."""
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    env = {**os.environ, "HANDTICK_STATE": str(tmp_path / "state")}
    if "def test_" in block:
        (tmp_path / "test_block.py").write_text(block, encoding="utf-8")
        options = ["--board", "virtual", "--wiring", "examples/larch.toml"]
        command = [sys.executable, "-m", "pytest", "-q", "-p", "no:cacheprovider", "test_block.py", *options]
    else:
        (tmp_path / "block.py").write_text(block, encoding="utf-8")
        command = [sys.executable, "block.py"]
    ended = subprocess.run(command, cwd=tmp_path, env=env, capture_output=True, text=True, timeout=120, check=False)
    assert ended.returncode == 0, ended.stdout + ended.stderr


@pytest.mark.parametrize(("page", "block", "mark"), found("toml"), ids=named)
def test_toml_is_toml(page: Path, block: str, mark: str) -> None:
    """A file that is shown can be read."""
    assert tomllib.loads(block)


@pytest.mark.parametrize(("page", "block", "mark"), found("sql"), ids=named)
def test_queries_fit_the_log(page: Path, block: str, mark: str, tmp_path: Path) -> None:
    """A query that is shown can be asked of a log."""
    with LogWriter.open(tmp_path / "log.sqlite3", "board", 0) as log:
        log.add_tick(3, 1, 7, 41, 42, 1000, 0)
    connection = sqlite3.connect(tmp_path / "log.sqlite3")
    assert connection.execute(block).fetchall()
    connection.close()
