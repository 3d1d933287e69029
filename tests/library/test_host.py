"""The host of the library and its programs, in files: they load, prove and sound, each wall a millisecond thick."""

from pathlib import Path

import numpy as np
import pytest

from rigproof.engine.render import render
from rigproof.files.load import load_project
from rigproof.kinds.base import Kind
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net
from rigproof.readings.proof import read

RIG = """\
format = 1
name = "Host"
[[module]]
id = "chord"
sheet = "chord-oscillator"
row = 1
hp = 0
[[module]]
id = "mill"
sheet = "program-host-4"
row = 1
hp = 10
[[controller]]
id = "knobs"
sheet = "knob-box-16"
[[interface]]
id = "desk"
sheet = "interface-2"
"""
PATCH = """\
format = 1
cables = [
  { from = "chord.left", to = "mill.in-1" },
  { from = "chord.right", to = "mill.in-2" },
  { from = "mill.out-1", to = "desk.left", lead = "mono-3.5" },
  { from = "mill.out-2", to = "desk.right", lead = "mono-3.5" },
  { from = "knobs.midi", to = "mill.midi-in" },
]
[[map]]
control = "knobs.k1"
cc = 40
to = "mill/dull.cutoff-cc"
[inside]
mill = "mill.inside.toml"
"""
INSIDE = """\
format = 1
cables = [
  { from = "host.from-1", to = "dull.in" },
  { from = "host.from-midi", to = "dull.midi" },
  { from = "wobble.sine", to = "dull.cutoff" },
  { from = "dull.low", to = "sum.in-1" },
  { from = "host.from-2", to = "sum.in-2" },
  { from = "sum.out", to = "echo.left" },
  { from = "echo.out-left", to = "host.to-1" },
  { from = "echo.out-right", to = "host.to-2" },
]
[settings]
echo.mix = 0
dull.depth = 0
[[program]]
id = "dull"
sheet = "filter-program"
[[program]]
id = "wobble"
sheet = "wobble-program"
[[program]]
id = "sum"
sheet = "blend-program"
[[program]]
id = "echo"
sheet = "echo-program"
"""


@pytest.fixture
def net(tmp_path: Path) -> Net:
    """The rig above, laid out."""
    for name, text in (
        ("rig.toml", RIG),
        ("host.patch.toml", PATCH),
        ("mill.inside.toml", INSIDE),
    ):
        (tmp_path / name).write_text(text, "utf-8")
    return flatten(load_project(tmp_path).require_project())


def test_it_sounds_and_stays_within_its_proof(net: Net) -> None:
    rows = [net.section("mill.out-of-1").outs[0], net.section("mill.out-of-2").outs[0]]
    heard_v = render(net, 0.5, probes=rows)
    readings = read(net)
    for row, wave in zip(rows, heard_v, strict=True):
        assert wave.std() > 0.1
        assert readings.volts[row].holds(float(wave.min()), slack=1e-6)
        assert readings.volts[row].holds(float(wave.max()), slack=1e-6)


def test_the_two_walls_take_the_two_milliseconds_their_sheet_says(net: Net) -> None:
    """Oracle: the sheet's own figure, 1 ms a converter at 48 kHz: 48 samples in and 48 out."""
    rows = [net.section("mill.into-2").ins[0], net.section("mill.out-of-1").outs[0]]
    into, out = render(net, 0.2, probes=rows)
    first_in, first_out = (
        np.flatnonzero(np.abs(into) > 0.05)[0],
        np.flatnonzero(np.abs(out) > 0.01)[0],
    )
    assert first_out - first_in == pytest.approx(96, abs=3)


def test_the_fader_outside_reaches_the_program_inside(net: Net) -> None:
    section = net.section("mill/dull.cutoff-cc")
    assert isinstance(section.kind, Kind)
    assert section.setting["number"] == 40.0
    assert net.rows[section.ins[0]].writer is not None
