"""`tour` on paper, as Markdown, in a file and for programs."""

from pathlib import Path

import rigproof.demo
from rigproof.cli.screen import BAD_INPUT, FINE
from tests.cli.conftest import Call

DEMO = Path(rigproof.demo.__file__).parent / "lowtide"


def test_on_paper_no_line_is_longer_than_the_paper(call: Call, bench: Path) -> None:
    answer = call("tour", bench)
    assert answer.code == FINE
    assert "Voice: voice" in answer.out
    assert max(map(len, answer.out.splitlines())) <= 80


def test_as_markdown(call: Call, bench: Path) -> None:
    lines = call("tour", bench, "--markdown").out.splitlines()
    assert lines[0] == "# Two halves"
    assert "## Section: The loud half" in lines
    assert "- Bar 1, left hand: voice.level to 3." in lines


def test_into_a_file(call: Call, bench: Path, tmp_path: Path) -> None:
    for name, first in (("tour.md", "# Two halves"), ("tour.txt", "Two halves")):
        answer = call("tour", bench, "--out", tmp_path / name)
        assert answer.code == FINE
        assert (tmp_path / name).read_text("utf-8").splitlines()[0] == first


def test_what_is_no_text_file_is_refused(call: Call, bench: Path, tmp_path: Path) -> None:
    assert call("tour", bench, "--out", tmp_path / "tour.pdf").code == BAD_INPUT
    assert call("tour", bench, "--out", tmp_path / "nowhere" / "tour.md").code == BAD_INPUT
    (tmp_path / "folder.md").mkdir()
    assert call("tour", bench, "--out", tmp_path / "folder.md").code == BAD_INPUT


def test_the_demo_is_told_as_it_is_wired(call: Call) -> None:
    """Looked at line by line: nine voices by what they are called, and each fader where its cable ends."""
    data = call("tour", DEMO, "--json").data
    stops = {s["heading"]: s["says"] for s in data["stops"]}
    voices = [h.removeprefix("Voice: ") for h in stops if h.startswith("Voice: ")]
    assert voices == ["bass", "pad", "sea", "thud", "hull", "spray", "bell", "chord", "horn"]
    assert "env.env-1 opens vcas.vca-1, set off by notes.gate." in stops["Voice: bass"]
    assert "faders.f3 under the hand: loudness, at vcas.vca-2." in stops["Voice: bass"]
    assert (
        "faders.k5 under the hand: how much goes on to echo, at sends.vca-3."
        in (stops["Voice: bell"])
    )
    assert (
        "faders.k8 under the hand: how often it plays, at sampler.voice-4."
        in (stops["Voice: bell"])
    )
    shared = stops["What they share"]
    assert "faders.k3 under the hand: how long the echo rings, at echo.echo." in shared
    assert "env.env-2 moves the loudness of it all, set off by rhythm.trig-1." in shared
