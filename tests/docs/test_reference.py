"""The documentation says what the code does: generated parts, links, and the README's own example."""

from __future__ import annotations

import re
import subprocess
import sys
from pathlib import Path

import pytest

from handtick.reference import PARTS, main, refreshed, stale_pages

ROOT = Path(__file__).parents[2]
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "docs").rglob("*.md"))]


def test_generated_parts_are_what_the_code_says() -> None:
    """No page has drifted from the code its tables are made of, and every table has its page."""
    assert stale_pages(ROOT / "docs") == {}
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


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.name)
def test_links_between_pages_lead_somewhere(page: Path) -> None:
    """Every link to a file of the project leads to one."""
    text = re.sub(r"```.*?```", "", page.read_text(encoding="utf-8"), flags=re.DOTALL)
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", text):
        assert (page.parent / target).exists(), target


def test_python_in_the_docs_runs() -> None:
    """Python shown in the documentation runs as it stands."""
    blocks = [
        block for page in PAGES for block in re.findall(r"```python\n(.*?)```", page.read_text("utf-8"), re.DOTALL)
    ]
    assert blocks
    for block in blocks:
        subprocess.run([sys.executable, "-c", block], check=True, capture_output=True, timeout=60)


def test_importing_handtick_needs_no_board_no_blinka_and_no_network() -> None:
    """The package imports in a Python without board modules, and opens no connection."""
    code = (
        "import sys\n"
        "for name in ('board', 'digitalio', 'adafruit_blinka', 'serial', 'socket', 'ssl'):\n"
        "    sys.modules[name] = None\n"
        "import handtick, handtick.bench, handtick.session, handtick.virtual.board\n"
    )
    subprocess.run([sys.executable, "-c", code], check=True, timeout=60)
