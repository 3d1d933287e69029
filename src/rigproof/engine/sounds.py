"""Samples brought to the rate of the engine.

Resampled with a linear-phase sinc filter of very high quality: tests hold a sine's level to 0.01 dB up to 0.9 of half
the lower rate, and images and all else 100 dB below it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

import numpy as np

from rigproof.engine.schedule import Floats
from rigproof.errors import Where
from rigproof.model.project import Project, Sound
from rigproof.net.graph import Net
from rigproof.net.stretch import rate_of

FILES = "files"
"""The option of a section kind that names its samples."""


def files_of_sections(net: Net) -> dict[str, tuple[str, ...]]:
    """Return the sound files that are put into each section, by its name."""
    found = {}
    for section in net.sections:
        files = _listed(section.setting.options.get(FILES))
        if files:
            found[section.name] = files
    return found


def places_of_files(project: Project) -> dict[str, Where]:
    """Return where in the patch each sound file is named."""
    return {
        name: filling.where
        for filling in project.patch.samples
        for name in _listed(filling.values.get(FILES))
    }


def _listed(value: object) -> tuple[str, ...]:
    return tuple(str(name) for name in value) if isinstance(value, tuple) else ()


def at_rate(sound: Sound, rate_hz: float) -> Floats:
    """Return a sample at a rate: float64[frames, channels], full scale 1.0."""
    data = np.ascontiguousarray(sound.data, dtype=np.float64)
    if sound.rate_hz == rate_hz or data.shape[0] == 0:
        return data
    import soxr

    resampled: Floats = soxr.resample(data, sound.rate_hz, rate_hz, quality="VHQ")
    return np.ascontiguousarray(resampled)


def sounds_of_sections(
    files: Mapping[str, Sequence[str]], sounds: Mapping[str, Sound], rate_hz: float
) -> dict[str, tuple[Floats, ...]]:
    """Return every section's samples at the rate, each file resampled once.

    `files` gives the names by section, `sounds` the samples by name.
    """
    ready = {name: at_rate(sound, rate_hz) for name, sound in sounds.items()}
    return {section: tuple(ready[name] for name in names) for section, names in files.items()}


def sounds_of_net(
    net: Net, read: Callable[[Sequence[str], Mapping[str, Where]], Mapping[str, Sound]]
) -> dict[str, tuple[Floats, ...]]:
    """Return every section's samples at the net's rate; `read` is given their names, and where each is named."""
    files = files_of_sections(net)
    names = [name for some in files.values() for name in some]
    return sounds_of_sections(files, read(names, places_of_files(net.project)), rate_of(net))
