"""All readings together: made once, when asked for, and soon enough."""

from __future__ import annotations

import subprocess
import sys
from time import process_time

import pytest

from rigproof.kinds.base import Span
from rigproof.model.project import Project
from rigproof.model.sheet import Sheet
from rigproof.net.flatten import flatten
from rigproof.net.graph import GROUND_ROW
from rigproof.readings.delay import arrivals
from rigproof.readings.paths import Along
from rigproof.readings.proof import Readings, read
from tests.readings.fader_rig import AMPLIFIER, OSCILLATOR, WAY_IN, fader_net
from tests.small_rigs import ADDER, project

EVERYTHING = (
    "volts",
    "level",
    "level_at_the_top",
    "pulses",
    "cycle",
    "headroom",
    "headroom_at_the_top",
    "heard",
    "dead_ends",
    "differences",
    "heard_after",
    "to_ears",
)


def test_every_jack_is_heard_as_late_as_the_way_through_it_takes() -> None:
    """Back from the ears, in one pass, against forward from each jack by itself."""
    readings = read(fader_net())
    ears = set(readings.paths.ear_rows())
    rows = {jack.contact.row for jack in readings.jacks().values()} - {GROUND_ROW}
    is_heard = set()
    for row in rows:
        there = [
            a for r, a in arrivals(readings.paths, [row], along=Along.ANYTHING).items() if r in ears
        ]
        assert bool(there) == (row in readings.to_ears)
        is_heard.add(bool(there))
        if there:
            found = readings.to_ears[row]
            assert found.lo_s == pytest.approx(min(a.lo_s for a in there), abs=1e-12)
            assert found.hi_s == pytest.approx(max(a.hi_s for a in there), abs=1e-12)
    assert True in is_heard


def test_readings_are_made_when_asked_for_and_kept() -> None:
    readings = read(fader_net())
    assert set(vars(readings)) == {"net"}
    assert readings.volts is readings.volts
    assert "level" not in vars(readings)


def test_a_jack_is_read_by_its_name() -> None:
    readings = read(fader_net())
    found = readings.at("bridge.cv-1")
    assert found.contact.name == "bridge.cv-1"
    assert found.span.lo == 0.0
    assert found.span.hi == pytest.approx(5.0, rel=1e-7)
    assert list(readings.jacks()) == list(readings.net.contacts)
    with pytest.raises(KeyError):
        readings.at("bridge.cv-9")


def test_an_empty_rig_can_be_read() -> None:
    readings = read(flatten(project({})))
    assert readings.volts == (Span(0.0, 0.0),)
    assert readings.cycle.quarters is None
    assert not readings.cycle.repeats
    assert readings.headroom == ()
    assert readings.heard_after == {}


def test_readings_need_no_compiler() -> None:
    """Checking starts fast because of this. Arrays come along with the graph library and are not counted."""
    code = (
        "import sys, rigproof.readings.proof, rigproof.readings.trace;"
        "print([m for m in ('numba', 'scipy', 'soundfile', 'soxr') if m in sys.modules])"
    )
    seen = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60
    )
    assert seen.stdout.strip() == "[]"


def voices(count: int) -> Project:
    """So many voices of four modules, each into the next one's adder, with an echo of the voice before fed back."""
    modules: dict[str, Sheet] = {}
    cables: list[tuple[str, str]] = []
    for i in range(count):
        modules |= {f"o{i}": OSCILLATOR, f"p{i}": OSCILLATOR, f"a{i}": AMPLIFIER, f"s{i}": ADDER}
        cables += [
            (f"o{i}.saw", f"a{i}.in"),
            (f"p{i}.sine", f"a{i}.cv"),
            (f"a{i}.out", f"s{i}.in-1"),
            (f"p{i}.pulse", f"p{i}.saw"),
        ]
        if i:
            cables.append((f"s{i - 1}.out", f"s{i}.in-2"))
        if i % 4 == 3:
            cables.append((f"s{i}.out", f"s{i - 2}.in-1"))
    modules["desk"] = WAY_IN
    cables.append((f"s{count - 1}.out", "desk.left"))
    return project(modules, cables)


def read_everything(readings: Readings) -> float:
    start = process_time()
    for name in EVERYTHING:
        getattr(readings, name)
    return process_time() - start


@pytest.mark.bench
def test_sixty_modules_are_read_in_100_ms() -> None:
    """15 voices of four modules and some 80 cables, loops included."""
    net = flatten(voices(15))
    assert min(read_everything(read(net)) for _ in range(3)) < 0.100


@pytest.mark.bench
def test_reading_grows_with_the_rig_and_not_with_its_square() -> None:
    """Eight times the rig may take twelve times as long."""
    small, large = flatten(voices(30)), flatten(voices(240))
    small_s = min(read_everything(read(small)) for _ in range(3))
    large_s = min(read_everything(read(large)) for _ in range(3))
    assert large_s < 12.0 * small_s
