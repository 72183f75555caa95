"""The documentation as a site: it builds without a warning, and nothing on it comes from elsewhere."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
#: As the Makefile has it.
PAGES = re.search(r"^PAGES := (.*)$", (ROOT / "Makefile").read_text(encoding="utf-8"), re.MULTILINE)


def build(folder: Path, extra: dict[str, str] | None = None) -> subprocess.CompletedProcess[str]:
    """Builds the site from the pages as they are, and those of ``extra``."""
    assert PAGES is not None
    pages = folder / "pages"
    for name in PAGES[1].split():
        source = ROOT / name
        if source.is_dir():
            shutil.copytree(source, pages / name, ignore=shutil.ignore_patterns("__pycache__", ".pytest_cache"))
        else:
            pages.mkdir(exist_ok=True)
            shutil.copy(source, pages / name)
    for name, text in (extra or {}).items():
        (pages / name).write_text(text, encoding="utf-8")
    places = {"HANDTICK_PAGES": str(pages), "HANDTICK_SITE": str(folder / "site")}
    env = {**os.environ, **places, "NO_MKDOCS_2_WARNING": "1"}
    # Not with --quiet, which hides warnings from --strict.
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--config-file", str(ROOT / "mkdocs.yml")]
    return subprocess.run(command, env=env, capture_output=True, text=True, timeout=120, check=False)


def test_site_builds_and_needs_nothing_from_elsewhere(tmp_path: Path) -> None:
    """No dead link, no page left out of the contents; scripts, styles, fonts and pictures are the site's own."""
    built = build(tmp_path)
    assert built.returncode == 0, built.stdout + built.stderr
    pages = list((tmp_path / "site").rglob("*.html"))
    assert len(pages) > 20
    for page in pages:
        text = page.read_text(encoding="utf-8")
        loaded = re.findall(r"""<(?:script|img|iframe|source)[^>]+src=["']?(\w+:)?//""", text)
        styled = re.findall(r"""<link[^>]+rel=["']?(?:stylesheet|preconnect|preload)[^>]+href=["']?https?:""", text)
        assert not loaded + styled, page


@pytest.mark.parametrize(
    ("name", "text"),
    [
        ("docs/left-out.md", "# A page that is in no list\n"),
        ("docs/larch.md", "# Larch\n\n[nowhere](no-such-page.md)\n"),
        ("docs/larch.md", "# Larch\n\n[nowhere](cautions.md#no-such-heading)\n"),
    ],
)
def test_dead_links_and_forgotten_pages_stop_the_build(tmp_path: Path, name: str, text: str) -> None:
    """What a reader could not find is an error."""
    assert build(tmp_path, {name: text}).returncode != 0
