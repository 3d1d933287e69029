"""Synthesise the samples of the demo, each from nothing but arithmetic and a fixed seed.

Run it as ``python -m rigproof.demo.make_samples FOLDER`` to write every sample as FLAC. Two runs agree to the bit on
one machine; elsewhere the last bit of a sample may differ, since sines are rounded there by another library.

Everything stays in D minor, so that whatever chance strikes together is consonant: chord and horn on D, bells on A C D
F G. Bells whose minor third would leave the scale have a major one.

Sources: bell partials (hum, prime, tierce, quint, nominal at 0.5, 1, 1.2, 1.5, 2 times the strike note), struck free
bar (1, 2.756, 5.404, 8.933): Fletcher & Rossing, The Physics of Musical Instruments, 2nd ed., ch. 21 and 2, from
memory. All else is shaped by ear.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
import soundfile
from numpy.typing import NDArray

from rigproof.units import hz_from_note

RATE_HZ = 48_000
Floats = NDArray[np.float64]

SHIP_BELLS: Mapping[str, tuple[int, float]] = {
    # name -> (strike note, ratio of the third)
    "bell-1-a4": (69, 1.2),
    "bell-2-c5": (72, 1.26),
    "bell-3-d5": (74, 1.2),
    "bell-4-f5": (77, 1.26),
    "bell-5-g5": (79, 1.2),
    "bell-6-a5": (81, 1.2),
}
CHORDS: Mapping[str, tuple[tuple[int, ...], float]] = {
    # name -> (notes, brightness: corner in Hz at the strike)
    "chord-1-dark": ((50, 57, 60, 65), 900.0),
    "chord-2-open": ((57, 60, 65, 69), 1_700.0),
    "chord-3-bright": ((62, 65, 69, 72), 3_200.0),
}
HORNS: Mapping[str, tuple[tuple[int, float], ...]] = {
    # name -> blasts, each (note, seconds)
    "horn-1-near": ((38, 2.6),),
    "horn-2-far": ((45, 1.9),),
    "horn-3-two-tone": ((45, 1.1), (38, 1.6)),
}


def seconds(length_s: float) -> Floats:
    """Return the time of every sample. [s]"""
    return np.arange(round(length_s * RATE_HZ)) / RATE_HZ


def chance(seed: int) -> np.random.Generator:
    """Return a generator that gives the same numbers everywhere."""
    return np.random.Generator(np.random.PCG64(seed))


def filtered(x: NDArray[Any], gain_at: Callable[[Floats], Floats]) -> Floats:
    """Return a sound whose spectrum has been weighed by a gain at each frequency, with zero phase."""
    size = 2 * len(x)
    spectrum = np.fft.rfft(x, size)
    hz = np.asarray(np.fft.rfftfreq(size, 1.0 / RATE_HZ), dtype=np.float64)
    return np.asarray(np.fft.irfft(spectrum * gain_at(hz), size)[: len(x)], dtype=np.float64)


def band(hz: Floats, lo_hz: float, hi_hz: float, order: int = 2) -> Floats:
    """Return the gain of a Butterworth-like band from `lo_hz` to `hi_hz`."""
    safe = np.maximum(hz, 1e-3)
    rise = 1.0 / np.sqrt(1.0 + (lo_hz / safe) ** (2 * order))
    fall = 1.0 / np.sqrt(1.0 + (safe / hi_hz) ** (2 * order))
    return rise * fall


def in_a_hall(x: Floats, *, decay_s: float, wet: float, seed: int) -> Floats:
    """Return a sound with the answer of a stone hall: convolved with dying, darkening noise."""
    t = seconds(3.0 * decay_s)
    answer = chance(seed).standard_normal(len(t)) * np.exp(-t / decay_s) * (1.0 - np.exp(-t / 0.02))
    answer = filtered(answer, partial(band, lo_hz=120.0, hi_hz=1_600.0, order=1))
    answer /= math.sqrt(float(np.sum(answer**2)))
    size = len(x) + len(t)
    reply = np.fft.irfft(np.fft.rfft(x, size) * np.fft.rfft(answer, size), size)
    dry = np.concatenate([x, np.zeros(len(t))])
    return dry + wet * reply


def finished(x: Floats, *, peak: float, fade_s: float = 0.05) -> Floats:
    """Return a sound at its peak, without DC below 20 Hz, starting and ending at zero."""
    flat = x if x.ndim == 2 else x[:, None]
    flat = np.stack(
        [filtered(flat[:, c], partial(band, lo_hz=20.0, hi_hz=1e6)) for c in range(flat.shape[1])],
        1,
    )
    tail = round(fade_s * RATE_HZ)
    flat[-tail:] *= np.linspace(1.0, 0.0, tail)[:, None] ** 2
    head = 24
    flat[:head] *= np.linspace(0.0, 1.0, head)[:, None]
    return flat * (peak / float(np.max(np.abs(flat))))


def thud() -> Floats:
    """The low drum: a boat against the pier. A sine falls to A1 with a short wooden knock on top."""
    t = seconds(0.7)
    hz = 55.0 + 130.0 * np.exp(-t / 0.022) + 30.0 * np.exp(-t / 0.09)
    body = np.sin(2.0 * np.pi * np.cumsum(hz) / RATE_HZ) * np.exp(-t / 0.19)
    knock = np.sin(2.0 * np.pi * 410.0 * t) * np.exp(-t / 0.012)
    click = filtered(
        chance(11).standard_normal(len(t)) * np.exp(-t / 0.004),
        partial(band, lo_hz=700.0, hi_hz=5_000.0),
    )
    return finished(np.tanh(1.5 * body) + 0.14 * knock + 0.10 * click, peak=0.96)


def hull(*, hz: float, decay_s: float, grit: float, wet: float, seed: int) -> Floats:
    """A blow on a hull: the first modes of a struck bar, and the rattle of what is loose."""
    t = seconds(0.9)
    modes = ((1.0, 1.0), (2.756, 0.55), (5.404, 0.30), (8.933, 0.12))
    ring = sum(
        (
            gain * np.sin(2.0 * np.pi * hz * ratio * t) * np.exp(-t * math.sqrt(ratio) / decay_s)
            for ratio, gain in modes
        ),
        np.zeros(len(t)),
    )
    rattle = filtered(
        chance(seed).standard_normal(len(t)), partial(band, lo_hz=900.0, hi_hz=6_500.0)
    )
    rattle *= np.exp(-t / 0.055) + 0.35 * np.exp(-t / 0.16)
    dry = ring + grit * rattle
    return finished(in_a_hall(dry, decay_s=0.28, wet=wet, seed=seed + 1), peak=0.9)


def spray(*, decay_s: float, lo_hz: float, seed: int) -> Floats:
    """Spray over the bow: a breath of noise, high and short."""
    t = seconds(8.0 * decay_s + 0.02)
    hiss = filtered(
        chance(seed).standard_normal(len(t)), partial(band, lo_hz=lo_hz, hi_hz=11_500.0)
    )
    return finished(
        hiss * np.exp(-t / decay_s) * (1.0 - np.exp(-t / 0.0015)), peak=0.8, fade_s=0.01
    )


def bell(*, note: int, third: float, seed: int) -> Floats:
    """A ship's bell, each partial a pair that beats a little between left and right."""
    t = seconds(3.6)
    strike_hz = hz_from_note(note)
    partials = (
        # ratio, gain, decay in seconds
        (0.5, 0.42, 1.7),
        (1.0, 1.00, 1.25),
        (third, 0.38, 0.90),
        (1.5, 0.22, 0.60),
        (2.0, 0.62, 0.75),
        (2.52, 0.14, 0.40),
        (3.0, 0.20, 0.34),
        (4.0, 0.16, 0.24),
        (5.2, 0.07, 0.13),
    )
    random = chance(seed)
    sides = []
    for side in (-1.0, 1.0):
        x = np.zeros(len(t))
        for ratio, gain, decay_s in partials:
            hz = strike_hz * ratio * (1.0 + side * 0.0004)
            x += gain * np.sin(2.0 * np.pi * (hz * t + random.random())) * np.exp(-t / decay_s)
        sides.append(x * (1.0 - np.exp(-t / 0.0012)))
    return finished(np.stack(sides, 1), peak=0.8, fade_s=0.4)


def chord(*, notes: Sequence[int], corner_hz: float, seed: int) -> Floats:
    """A chord from a wireless across the water: saws behind a closing filter, through a small loudspeaker."""
    t = seconds(1.1)
    random = chance(seed)
    x = np.zeros(len(t))
    for note in notes:
        for cents in (-7.0, 6.0):
            hz = hz_from_note(note + cents / 100.0)
            closing_hz = corner_hz * (0.25 + 0.75 * np.exp(-t / 0.10))
            for k in range(1, int(9_000.0 / hz) + 1):
                gain = 1.0 / (k * np.sqrt(1.0 + (k * hz / closing_hz) ** 4))
                x += gain * np.sin(2.0 * np.pi * (k * hz * t + random.random()))
    x *= (1.0 - np.exp(-t / 0.003)) * (0.8 * np.exp(-t / 0.11) + 0.2 * np.exp(-t / 0.32))
    x = filtered(x, partial(band, lo_hz=190.0, hi_hz=5_200.0, order=1))
    return finished(np.tanh(2.2 * x / np.max(np.abs(x))), peak=0.85, fade_s=0.2)


def horn(*, blasts: Sequence[tuple[int, float]], seed: int) -> Floats:
    """A foghorn: a reed that takes its time to speak and sags as the air runs out, with the bay behind it."""
    parts = []
    random = chance(seed)
    for note, length_s in blasts:
        t = seconds(length_s)
        bend = 1.0 - 0.045 * np.exp(-t / 0.12) - 0.03 * np.exp((t - length_s) / 0.10)
        phase = np.cumsum(hz_from_note(note) * bend) / RATE_HZ
        x = np.zeros(len(t))
        for k in range(1, 25):
            formant = 1.0 / (1.0 + ((k * hz_from_note(note) - 320.0) / 240.0) ** 2)
            x += (0.25 / k + formant / math.sqrt(k)) * np.sin(
                2.0 * np.pi * (k * phase + random.random())
            )
        x *= (1.0 - np.exp(-t / 0.14)) * (1.0 - np.exp((t - length_s) / 0.10))
        parts.append(x)
    dry = np.concatenate(parts)
    wet = in_a_hall(dry, decay_s=0.75, wet=0.9, seed=seed)
    return finished(wet, peak=0.85, fade_s=0.8)


SAMPLES: dict[str, Callable[[], Floats]] = {
    "thud": thud,
    "hull-1-knock": partial(hull, hz=587.3, decay_s=0.05, grit=0.35, wet=0.25, seed=21),
    "hull-2-plate": partial(hull, hz=293.7, decay_s=0.13, grit=0.55, wet=0.45, seed=23),
    "hull-3-hold": partial(hull, hz=146.8, decay_s=0.22, grit=0.40, wet=0.80, seed=25),
    "spray-1-tick": partial(spray, decay_s=0.018, lo_hz=6_000.0, seed=31),
    "spray-2-drop": partial(spray, decay_s=0.035, lo_hz=5_000.0, seed=32),
    "spray-3-wave": partial(spray, decay_s=0.080, lo_hz=4_000.0, seed=33),
    **{
        name: partial(bell, note=note, third=third, seed=40 + note)
        for name, (note, third) in SHIP_BELLS.items()
    },
    **{
        name: partial(chord, notes=notes, corner_hz=corner_hz, seed=130 + notes[0])
        for name, (notes, corner_hz) in CHORDS.items()
    },
    **{name: partial(horn, blasts=blasts, seed=200 + len(name)) for name, blasts in HORNS.items()},
}
"""Every sample of the demo: its file name without ending, and what makes it float64[frames, channels]."""


def write_samples(folder: Path) -> None:
    """Write every sample into the folder as 16-bit FLAC."""
    for name, make in SAMPLES.items():
        soundfile.write(folder / f"{name}.flac", make(), RATE_HZ, subtype="PCM_16")


if __name__ == "__main__":
    write_samples(Path(sys.argv[1]))
