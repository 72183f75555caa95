"""The documentation says what the code does: generated parts, links, and the README's own example."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
from pathlib import Path

import pytest

from handtick.export import tick_object
from handtick.log import Tick
from handtick.reference import PARTS, main, refreshed, stale_pages, stale_pictures
from handtick.wiring import Wiring
from tests.docs.fault_table import faults, page

ROOT = Path(__file__).parents[2]
PAGES = [
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    *sorted((ROOT / "docs").rglob("*.md")),
    *sorted((ROOT / "hardware").rglob("*.md")),
]


def test_generated_parts_are_what_the_code_says() -> None:
    """No page has drifted from the code its tables are made of, and every table has its page."""
    assert stale_pages(ROOT / "docs") == {}
    assert stale_pictures(ROOT / "docs") == {}
    text = "".join(page.read_text(encoding="utf-8") for page in PAGES)
    assert set(re.findall(r"<!-- generated: ([^>]+?) -->", text)) == set(PARTS)


def test_stale_page_is_named_and_rewritten(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A page that differs is named with what to do, and only then rewritten when asked for."""
    page = tmp_path / "page.md"
    page.write_text("a\n<!-- generated: light -->\nold\n<!-- end -->\nb\n", encoding="utf-8")
    assert main([str(tmp_path), "--check"]) == 1
    assert "run: make docs" in capsys.readouterr().err
    assert main([str(tmp_path)]) == 0
    assert main([str(tmp_path), "--check"]) == 0
    text = page.read_text(encoding="utf-8")
    assert text.startswith("a\n")
    assert text.endswith("<!-- end -->\nb\n")
    assert "old" not in text
    assert refreshed(text) == text


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    """Every link to a file of the project leads to one."""
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text):
        assert (page.parent / target).exists(), target


def test_every_kind_and_key_of_json_is_in_its_page() -> None:
    """What commands print with --json stands in the page on it, kind by kind and key by key."""
    page = (ROOT / "docs" / "reference" / "json.md").read_text(encoding="utf-8")
    rows = {match[1]: match[0] for match in re.finditer(r"^\| `(\w+)` \|.*$", page, re.MULTILINE)}
    source = "".join(path.read_text(encoding="utf-8") for path in (ROOT / "host" / "handtick" / "cli").glob("*.py"))
    kinds = set(re.findall(r'kind"?[=:] ?"(\w+)"', source)) | {"run", "tick", "gap", "unplaced"}
    assert kinds == set(rows)
    assert set(re.findall(r"`(\w+)`", rows["tick"])) >= set(tick_object(Tick(1, 0, 1, 0, 0, 0, 0), Wiring())) - {"kind"}


def test_every_command_of_the_readme_walk_works(tmp_path: Path) -> None:
    """The walk in the README, typed as it stands against a served virtual board, ends without an error."""
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    walk = readme[readme.index("## Step it yourself") : readme.index("## Test it")]
    typed = re.findall(r"^    (?:\.venv/bin/)?(handtick [^#\n]+)", walk, re.MULTILINE)
    assert len(typed) >= 8
    assert typed[0].strip() == "handtick virtual"
    shutil.copytree(ROOT / "examples", tmp_path / "examples")
    env = {**os.environ, "HANDTICK_STATE": str(tmp_path / "state")}
    start = [sys.executable, "-c", "from handtick.cli import main; main()"]
    with subprocess.Popen([*start, "virtual"], env=env, cwd=tmp_path, stdout=subprocess.PIPE, text=True) as server:
        assert server.stdout is not None
        assert server.stdout.readline()
        try:
            for line in typed[1:]:
                words = shlex.split(line)[1:]
                ended = subprocess.run([*start, *words], env=env, cwd=tmp_path, capture_output=True, text=True)
                assert ended.returncode == 0, (line, ended.stderr)
        finally:
            server.send_signal(signal.SIGINT)


def test_importing_handtick_needs_no_board_no_blinka_and_no_network() -> None:
    """The package imports in a Python without board modules, and opens no connection."""
    code = (
        "import sys\n"
        "for name in ('board', 'digitalio', 'adafruit_blinka', 'serial', 'socket', 'ssl'):\n"
        "    sys.modules[name] = None\n"
        "import handtick, handtick.bench, handtick.session, handtick.virtual.board\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)


def test_page_of_faults_is_made_from_the_tests() -> None:
    """Every fault that a test tries stands in the page, and nothing that none tries."""
    assert (ROOT / "docs" / "faults.md").read_text(encoding="utf-8") == page(), "run make docs"
    assert len(list(faults())) > 50
