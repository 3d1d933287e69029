"""The docs: generated pages are listed and compared, and nothing in the site comes from another host."""

import re
import subprocess
import sys
from pathlib import Path

import pytest

from docs import generate

ROOT = Path(__file__).resolve().parent.parent


def test_a_stale_page_is_seen_and_written_anew(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(generate, "DOCS", tmp_path)
    monkeypatch.setattr(generate, "PAGES", (generate.Page("page.md", lambda: "# Page\n\nTold."),))
    assert generate.main(is_check=True) == 1
    assert generate.main(is_check=False) == 0
    assert generate.main(is_check=True) == 0
    (tmp_path / "page.md").write_text("edited by hand")
    assert generate.main(is_check=True) == 1


def test_every_generated_page_has_its_place_in_the_navigation() -> None:
    navigation = (ROOT / "mkdocs.yml").read_text("utf-8")
    for page in generate.PAGES:
        assert f" {page.path}\n" in navigation


def test_site_loads_nothing_from_elsewhere(tmp_path: Path) -> None:
    command = [sys.executable, "-m", "mkdocs", "build", "--strict", "--quiet", "--site-dir"]
    subprocess.run([*command, str(tmp_path)], cwd=ROOT, check=True)
    loads = re.compile(
        r"""<(?:script|img|iframe|source|video|audio)[^>]*\ssrc=["']?(?:https?:)?//[^>]*>"""
        r"""|<link[^>]*\shref=["']?(?:https?:)?//[^>]*>"""
    )
    pages = list(tmp_path.rglob("*.html"))
    assert pages
    for page in pages:
        assert not loads.findall(page.read_text("utf-8")), page.name
    for style in tmp_path.rglob("*.css"):
        assert not re.search(r"(?:@import|url\()\s*[\"']?(?:https?:)?//", style.read_text("utf-8"))
