"""What a probe at a jack has seen: an outline for a scope, a spectrum, a level, out of a render's file in volts."""

from __future__ import annotations

from pathlib import Path
from typing import Any

from rigproof.errors import NOWHERE, RigError
from rigproof.web.api.problems import refused_edit

COLUMNS_LIMIT = 4000
READ_LIMIT_FRAMES = 20_000_000
"""So much is read at once: seven minutes at 48 kHz."""
SPECTRUM_LIMIT_FRAMES = 65_536


def probe_view(path: Path, *, at_s: float, length_s: float, columns: int) -> dict[str, Any]:
    """Return what was seen from `at_s` on for `length_s`, one entry a lane; the spectrum is of its first part.

    Raises `Refusal` when the stretch lies outside the render or is too long.
    """
    import soundfile

    from rigproof.measure.probe import outline, spectrum, strength

    with soundfile.SoundFile(path) as audio:
        rate_hz = float(audio.samplerate)
        first, count = round(at_s * rate_hz), round(length_s * rate_hz)
        if not (0 <= first < audio.frames and 0 < count <= READ_LIMIT_FRAMES):
            seconds = audio.frames / rate_hz
            wrong = RigError(NOWHERE, "nothing was seen there", expected=f"0 to {seconds:g} s")
            raise refused_edit([wrong])
        audio.seek(first)
        seen = audio.read(count, dtype="float64", always_2d=True).T
    lanes = []
    for volts in seen:
        low_v, high_v = outline(volts, columns)
        hz, db = spectrum(volts[:SPECTRUM_LIMIT_FRAMES], rate_hz)
        level = strength(volts)
        lanes.append(
            {
                "low_v": low_v.tolist(),
                "high_v": high_v.tolist(),
                "level": {
                    "lo_v": level.lo_v,
                    "hi_v": level.hi_v,
                    "dc_v": level.dc_v,
                    "rms_v": level.rms_v,
                },
                "spectrum": {"step_hz": float(hz[1]) if len(hz) > 1 else 0.0, "db": db.tolist()},
            }
        )
    return {"at_s": first / rate_hz, "length_s": seen.shape[1] / rate_hz, "lanes": lanes}
