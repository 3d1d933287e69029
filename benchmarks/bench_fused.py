"""Our loop against the same patch fused by hand in C: 240 sections of 40 voices, in blocks of 64 samples.

The C does the same maths with every voice in registers, which no engine that runs any patch can do; the ratio says how
much of that speed is kept. It is left out, and said so, where there is no C compiler.
"""

from __future__ import annotations

import ctypes
import shutil
import subprocess
import tempfile
from pathlib import Path

import numpy as np

from benchmarks.timing import side_by_side
from rigproof.engine.render import Player
from rigproof.engine.schedule import schedule
from rigproof.kinds.base import BLOCK
from rigproof.model.patch import Cable, Patch, Settings
from rigproof.model.project import Project
from rigproof.model.rig import Mounted, Rig
from rigproof.model.sheet import OUTPUT_OHM, Control, Jack, Section, Sheet, Signal, Way, Wire
from rigproof.net.flatten import flatten
from rigproof.net.graph import Net

VOICES = 40
RATE_HZ = 48_000.0
WANTED_RATIO = 0.46
"""The share of fused C's speed that a trial of the engine's shape had reached."""


class Voice(ctypes.Structure):
    """The state of one voice, as `fused.c` lays it out."""

    _fields_ = tuple(
        (name, ctypes.c_double)
        for name in (
            "source_v",
            "drift_v",
            "gain_1",
            "gain_2",
            "rise_s",
            "fall_s",
            "cv_v",
            "lag_1",
            "lag_2",
        )
    )


def voice_figures(i: int) -> dict[str, float]:
    """Return what sets voice `i`; every voice is set otherwise."""
    return {
        "source_v": 5.0 - 0.2 * i,
        "drift_v": 0.1 * i,
        "gain_1": 0.5 + 0.01 * i,
        "gain_2": 0.3,
        "rise_s": 0.005 + 0.001 * i,
        "fall_s": 0.02,
        "cv_v": 1.0 + 0.08 * i,
    }


def net_of_voices() -> Net:
    """Return the patch: 40 voices of mixer, slew, VCA, mixer, slew and jack, summed in two groups."""
    sheets = {}
    modules = []
    cables = []
    for i in range(VOICES):
        f = voice_figures(i)
        sheets[f"voice-{i}"] = Sheet(
            f"voice-{i}",
            "Voice",
            hp=4,
            jacks={
                name: Jack(name, Way.IN, Signal.CV, lanes={"tip": (port,)}, normal_v=f[figure])
                for name, port, figure in (
                    ("source", "mix.in-1", "source_v"),
                    ("drift", "mix.in-2", "drift_v"),
                    ("cv", "vca.cv", "cv_v"),
                )
            }
            | {
                "out": Jack(
                    "out",
                    Way.OUT,
                    Signal.AUDIO,
                    lanes={"tip": ("lag-2.out",)},
                    resistance_ohm=OUTPUT_OHM,
                )
            },
            sections={
                "mix": Section("mix", "mixer", {"ways": 2, "gain": (f["gain_1"], f["gain_2"])}),
                "lag": Section("lag", "slew", {"rise": f["rise_s"], "fall": f["fall_s"]}),
                "vca": Section("vca", "vca", {"response": 0}),
                "mix-2": Section("mix-2", "mixer", {"ways": 2, "gain": (f["gain_1"], f["gain_2"])}),
                "lag-2": Section("lag-2", "slew", {"rise": f["rise_s"], "fall": f["fall_s"]}),
            },
            wires=(
                Wire("mix.out", "lag.in"),
                Wire("lag.out", "vca.in"),
                Wire("vca.out", "mix-2.in-1"),
                Wire("lag.out", "mix-2.in-2"),
                Wire("mix-2.out", "lag-2.in"),
            ),
        )
        modules.append(Mounted(f"v{i}", f"voice-{i}", 1, 4 * i))
        cables.append(
            Cable(f"v{i}.out", f"group-{1 + (i >= VOICES // 2)}.in-{1 + i % (VOICES // 2)}")
        )
    for name, ways in (("group", VOICES // 2), ("pair", 2)):
        sheets[name] = Sheet(
            name,
            "Sum",
            hp=8,
            jacks={
                f"in-{k}": Jack(f"in-{k}", Way.IN, Signal.AUDIO, lanes={"tip": (f"mix.in-{k}",)})
                for k in range(1, ways + 1)
            }
            | {
                "out": Jack(
                    "out",
                    Way.OUT,
                    Signal.AUDIO,
                    lanes={"tip": ("mix.out",)},
                    resistance_ohm=OUTPUT_OHM,
                )
            },
            sections={
                "mix": Section(
                    "mix", "mixer", {"ways": ways, "gain": 0.05 if name == "group" else 1.0}
                )
            },
            controls={"level": Control("level", hi=4.0, default=1.0, sets=("mix.master",))},
        )
    modules += [
        Mounted("group-1", "group", 2, 0),
        Mounted("group-2", "group", 2, 8),
        Mounted("all", "pair", 2, 16),
    ]
    cables += [Cable("group-1.out", "all.in-1"), Cable("group-2.out", "all.in-2")]
    patch = Patch("voices", cables=tuple(cables), settings=(Settings("all.level", 1.0),))
    return flatten(Project(Rig("voices", modules=tuple(modules)), patch, sheets))


def compiled_by_hand(folder: Path) -> ctypes.CDLL | None:
    """Return the fused C, compiled, or None where there is no compiler."""
    compiler = shutil.which("gcc") or shutil.which("cc") or shutil.which("clang")
    if compiler is None:
        return None
    library = folder / "fused.so"
    source = Path(__file__).with_name("fused.c")
    flags = ["-O3", "-march=native", "-ffast-math", "-shared", "-fPIC"]
    subprocess.run([compiler, *flags, str(source), "-o", str(library), "-lm"], check=True)
    return ctypes.CDLL(str(library))


def main() -> dict[str, float]:
    """Measure and return the figures."""
    net = net_of_voices()
    blocks = 400
    row = net.section("all.mix").outs[0]
    player = Player(schedule(net, wanted=[row]), [row])
    sections = len(player.plan.addresses)
    figures = {"sections": float(sections)}
    with tempfile.TemporaryDirectory() as folder:
        by_hand = compiled_by_hand(Path(folder))
        if by_hand is None:
            return figures
        voices = (Voice * VOICES)(*(Voice(**voice_figures(i)) for i in range(VOICES)))
        out_v = np.zeros(blocks * BLOCK)

        def run_by_hand() -> None:
            by_hand.run(
                voices,
                VOICES,
                ctypes.c_long(blocks),
                ctypes.c_double(RATE_HZ),
                out_v.ctypes.data_as(ctypes.POINTER(ctypes.c_double)),
            )

        run_by_hand()
        ours_v = player.play(blocks)[0]
        np.testing.assert_allclose(
            ours_v, out_v, rtol=1e-9, atol=1e-9
        )  # or it would be no comparison
        ours_s, by_hand_s = side_by_side(lambda: player.play(blocks), run_by_hand)
    samples = blocks * BLOCK
    return figures | {
        "ours_ns_per_section_sample": ours_s / samples / sections * 1e9,
        "fused_c_ns_per_section_sample": by_hand_s / samples / sections * 1e9,
        "share_of_fused_c": by_hand_s / ours_s,
        "wanted_share": WANTED_RATIO,
        "ours_times_real_time": samples / RATE_HZ / ours_s,
    }


if __name__ == "__main__":
    for name, value in main().items():
        print(f"{name:34}{value:10.3f}")
