"""Every command in the how-to pages does what the page shows."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
HOW_TO = ("bounce", "edges", "levels", "more-probes", "probes", "steady", "timers")
PAGES = [
    ROOT / "docs" / "find-the-fault.md",
    ROOT / "docs" / "see-it.md",
    ROOT / "docs" / "trigger.md",
    *(ROOT / "docs" / "how-to" / f"{name}.md" for name in HOW_TO),
]


def blocks(page: Path) -> list[list[tuple[str, list[str]]]]:
    """The console blocks of a page that can be run here: each a row of (command, lines shown)."""
    found = []
    text = re.sub(r"<!-- not run: [^>]+ -->\n```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for block in re.findall(r"```console\n(.*?)```", text, re.DOTALL):
        rows: list[tuple[str, list[str]]] = []
        for line in block.splitlines():
            if line.startswith("$ "):
                rows.append((line[2:], []))
            elif line.strip():
                rows[-1][1].append(line)
        found.append(rows)
    return found


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_walk_shows_what_its_commands_print(page: Path, tmp_path: Path) -> None:
    """Typed one after the other in one folder, each command prints the lines the page shows, in their order."""
    shutil.copy(ROOT / "examples" / "larch.toml", tmp_path / "wiring.toml")
    shutil.copy(ROOT / "examples" / "larch-registers.toml", tmp_path / "registers.toml")
    shutil.copy(ROOT / "examples" / "larch_model.py", tmp_path)
    shutil.copy(ROOT / "examples" / "rain-tally.csv", tmp_path)
    start = (ROOT / "examples" / "larch.toml").read_text(encoding="utf-8") + "\n[start]\nsame = 12\n"
    (tmp_path / "start.toml").write_text(start, encoding="utf-8")
    env = {**os.environ, "HANDTICK_STATE": str(tmp_path / "state"), "COLUMNS": "120", "PYTHONUNBUFFERED": "1"}
    program = [sys.executable, "-c", "from handtick.cli import main; main()"]
    typed = 0
    for rows in blocks(page):
        for command, shown in rows:
            words = shlex.split(command)
            assert words[0] == "handtick"
            ended = subprocess.run(
                [*program, *words[1:]],
                cwd=tmp_path,
                env=env,
                stdout=subprocess.PIPE,
                stderr=subprocess.STDOUT,
                text=True,
                timeout=120,
                check=False,
            )
            typed += 1
            assert "Traceback" not in ended.stdout, command
            assert ended.returncode in (0, 8, 9), (command, ended.stdout)
            printed = ended.stdout.splitlines()
            place = 0
            for line in shown:
                rest = [at for at, each in enumerate(printed[place:], place) if line.rstrip() in each]
                assert rest, (command, line, printed)
                place = rest[0]
    assert typed
