"""`rigproof render`: the set, or a stretch of it, as a sound file."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

from cyclopts import Parameter

from rigproof.cli.arguments import AsJson, Target
from rigproof.cli.loading import Opened, open_project
from rigproof.cli.problems import UsageError
from rigproof.cli.rendering import (
    STEM_FULL_SCALE_V,
    render_to_file,
    rendered_data,
    show_rendered,
    stretch_of,
)
from rigproof.cli.screen import finish

SUFFIXES = (".wav", ".flac")


def render(
    path: Target = None,
    /,
    *,
    seconds: Annotated[
        float | None, Parameter(help="so many seconds; without a set a minute is rendered")
    ] = None,
    section: Annotated[str | None, Parameter(help="only this section of the set")] = None,
    from_bar: Annotated[
        int | None, Parameter(help="begin at this bar of the set, or of the section")
    ] = None,
    out: Annotated[
        Path | None,
        Parameter(help="the file to write, .wav or .flac; NAME.wav here by default"),
    ] = None,
    bits: Annotated[
        Literal["16", "24", "float"], Parameter(help="16 or 24 bit, or 32-bit float")
    ] = "24",
    rate: Annotated[
        Literal["44100", "48000", "96000"], Parameter(help="sample rate in Hz")
    ] = "48000",
    stem: Annotated[
        list[str] | None,
        Parameter(help="also write this jack, module.jack; may be repeated", negative=""),
    ] = None,
    stem_volts: Annotated[
        float, Parameter(help="the voltage that a stem writes as full scale")
    ] = STEM_FULL_SCALE_V,
    as_json: AsJson = False,
) -> int:
    """Render the set, a section of it or so many seconds to a file, and say what it measures.

    The whole set by default. What came before a section is not heard in it: echoes begin empty.
    """
    if not 0.0 < stem_volts <= 100.0:
        raise UsageError(
            "--stem-volts cannot be that", found=f"{stem_volts:g}", expected="above 0 to 100"
        )
    opened = open_project(path, rate_hz=float(rate))
    stretch = stretch_of(opened, section=section, from_bar=from_bar, seconds=seconds)
    target = out if out is not None else default_out(opened, section)
    require_sound_file(target, bits)
    done = render_to_file(
        opened, stretch, target, bits=bits, stems=stem or (), stem_full_scale_v=stem_volts
    )
    return finish("render", rendered_data(done), lambda c: show_rendered(c, done), is_json=as_json)


def default_out(opened: Opened, section: str | None) -> Path:
    """Return the file that is written where none is named: in the current folder, after the patch."""
    name = opened.patch_path.name.partition(".")[0] if opened.patch_path is not None else "rig"
    return Path(f"{name}-{section}.wav" if section is not None else f"{name}.wav")


def require_sound_file(target: Path, bits: str) -> None:
    """Refuse a name that is no sound file, before anything is rendered."""
    if not target.absolute().parent.is_dir():
        raise UsageError("--out names a folder that is not there", found=f"'{target.parent}'")
    if target.exists() and not target.is_file():
        raise UsageError("--out names something that is no file", found=f"'{target}'")
    suffix = target.suffix.lower()
    if suffix not in SUFFIXES:
        raise UsageError(
            "--out is no sound file", found=f"'{target.name}'", expected=" or ".join(SUFFIXES)
        )
    if suffix == ".flac" and bits == "float":
        raise UsageError("FLAC holds no floats", expected="--bits 16, --bits 24, or a .wav file")
