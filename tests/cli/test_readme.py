"""The README keeps its word: its example loads, its commands exist, its links lead somewhere."""

import re
from pathlib import Path

from rigproof.cli.app import COMMANDS
from rigproof.cli.screen import FINE
from tests.cli.conftest import Call

ROOT = Path(__file__).resolve().parents[2]
README = (ROOT / "README.md").read_text("utf-8")


def test_the_small_example_is_a_project(call: Call, tmp_path: Path) -> None:
    rig, patch = re.findall(r"```toml\n(.*?)```", README, flags=re.DOTALL)
    (tmp_path / "rig.toml").write_text(rig, "utf-8")
    (tmp_path / "small.patch.toml").write_text(patch, "utf-8")
    answer = call("check", tmp_path, "--json")
    assert answer.code == FINE
    assert answer.data["survey"]["rig"] == "Small rig"
    assert answer.data["survey"]["modules"] == 2


def test_every_command_is_listed_and_no_other() -> None:
    listed = re.findall(r"^\| `rigproof ([\w-]+)", README, flags=re.MULTILINE)
    assert listed == [name for name, _, _ in COMMANDS]


def test_links_lead_somewhere() -> None:
    links = re.findall(r"\]\(([^)]+)\)", README)
    assert len(links) > 5
    for link in links:
        assert (ROOT / link).exists(), link
