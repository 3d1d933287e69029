"""A small project on disk for tests of the command line: a clock, a voice, a desk, a fader, a set of two sections."""

from pathlib import Path

VOICE = """
format = 1
title = "Voice"
hp = 10
depth_mm = 30
[draw_ma]
"+12V" = 60
"-12V" = 40
[jacks]
pitch = { way = "in", signal = "pitch", to = "osc.pitch" }
sine = { way = "out", signal = "audio", from = "osc.sine" }
saw = { way = "out", signal = "audio", from = "osc.saw" }
[controls]
tune = { unit = "Hz", range = [16, 4000], default = "440 Hz", sets = "osc.tune", taper = "log" }
level = { unit = "V", range = [0, 5], default = 2, sets = "osc.level" }
[sections]
osc = { kind = "oscillator" }
"""
TIME = """
format = 1
title = "Time"
hp = 6
depth_mm = 30
[draw_ma]
"+12V" = 30
[jacks]
run = { way = "in", signal = "gate", to = "clock.run" }
beat = { way = "out", signal = "clock", from = "clock.out-1" }
bar = { way = "out", signal = "clock", from = "clock.out-2" }
[sections]
clock = { kind = "clock", ways = 2, times = [4, 1], over = [1, 4] }
"""
DESK = """
format = 1
title = "Desk"
housing = "interface"
[jacks]
left = { way = "in", signal = "audio", to = "left.in", range_v = [-11, 11] }
right = { way = "in", signal = "audio", to = "right.in", range_v = [-11, 11] }
[sections]
left = { kind = "line-input", full-scale = "12 dBu" }
right = { kind = "line-input", full-scale = "12 dBu" }
"""
RIG = """
format = 1
name = "Test bench"
[case]
rows = [{ hp = 42, depth_mm = 50 }]
[supply]
rails_ma = { "+12V" = 500, "-12V" = 500 }
[[module]]
id = "time"
sheet = "time"
row = 1
hp = 0
[[module]]
id = "voice"
sheet = "voice"
row = 1
hp = 6
[[interface]]
id = "desk"
sheet = "desk"
"""
PATCH = """
format = 1
tempo_bpm = 120
cables = [
  { from = "voice.sine", to = "desk.left", colour = "red", cm = 90 },
  { from = "voice.saw", to = "desk.right", colour = "red", cm = 90 },
]
[settings]
"voice.tune" = "1 kHz"
"""
SET = """
format = 1
name = "Two halves"
tempo_bpm = 120
[[section]]
id = "quiet"
title = "The quiet half"
bars = 2
settings = { "voice.level" = 1 }
[[section]]
id = "loud"
title = "The loud half"
bars = 2
moves = [{ control = "voice.level", to = 3, beats = 4, hand = "left" }]
"""
FILES = {
    "modules/voice.toml": VOICE,
    "modules/time.toml": TIME,
    "modules/desk.toml": DESK,
    "rig.toml": RIG,
    "bench.patch.toml": PATCH,
    "bench.set.toml": SET,
}


def write_rig(folder: Path, **changed: str) -> Path:
    """Write the project into a folder, some files changed (`patch="..."`), and return the folder."""
    places = {"rig": "rig.toml", "patch": "bench.patch.toml", "set": "bench.set.toml"}
    texts = FILES | {places[name]: text for name, text in changed.items()}
    for name, text in texts.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
    return folder
