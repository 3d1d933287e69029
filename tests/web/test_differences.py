"""What a fix would do is shown before it is done: the lines shown are those that are then changed."""

from __future__ import annotations

import random
from pathlib import Path
from typing import Any

import pytest

from rigproof.web.api.differences import hunks
from tests.cli.rigs import RIG, write_rig
from tests.web.conftest import App


def patched(old: str, found: list[dict[str, Any]]) -> list[str]:
    """The lines of a text with its hunks applied: an independent reading of what they say."""
    lines = old.splitlines()
    for hunk in reversed(found):
        kept = [text for sign, text in hunk["lines"] if sign in " -"]
        start = hunk["old"] - 1
        assert lines[start : start + len(kept)] == kept
        lines[start : start + len(kept)] = [text for sign, text in hunk["lines"] if sign in " +"]
    return lines


@pytest.mark.parametrize("seed", range(20))
def test_hunks_lead_from_one_text_to_the_other(seed: int) -> None:
    chance = random.Random(seed)
    old = [chance.choice("abcdef") for _ in range(chance.randrange(40))]
    new = list(old)
    for _ in range(chance.randrange(6)):
        place = chance.randrange(len(new) + 1)
        new[place : place + chance.randrange(3)] = [chance.choice("abcxyz")] * chance.randrange(3)
    found = list(hunks("\n".join(old), "\n".join(new)))
    assert patched("\n".join(old), found) == new
    for hunk in found:
        kept = [text for sign, text in hunk["lines"] if sign in " +"]
        assert new[hunk["new"] - 1 : hunk["new"] - 1 + len(kept)] == kept
    assert bool(found) is (old != new)


def test_a_preview_is_what_the_fix_then_does(app: App, bench: Path) -> None:
    write_rig(bench, rig=RIG.replace('"+12V" = 500', '"+12V" = 80'))
    app.read()
    fixable = [f for f in app.get("/api/proof")["findings"] if f["fix"] is not None]
    assert fixable
    for found in fixable:
        which = {"finding": found["finding"], "at": found["at"]}
        before = {name: app.text(name) for name in ("rig.toml", "bench.patch.toml")}
        said = app.get("/api/fixes/preview", **which)
        assert said["words"] == found["fix"]["words"]
        assert said["files"]
        assert {name: app.text(name) for name in before} == before
        app.post("/api/fixes", {"client": app.name, "revision": app.revision, **which})
        for file in said["files"]:
            assert app.text(file["file"]).splitlines() == patched(
                before[file["file"]], file["hunks"]
            )
        app.read()
        app.go("undo")
    assert app.get("/api/fixes/preview", 404, finding="x", at="y")["error"]["name"] == "no-such-fix"
