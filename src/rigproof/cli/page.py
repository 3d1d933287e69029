"""The page of the docs that lists every command: its help as printed, an example, and the shape of its JSON."""

from __future__ import annotations

import io

from rigproof.cli.app import COMMANDS, make_app
from rigproof.cli.screen import BAD_INPUT, FINE, SHOW_STOPPED, STOPPED, UNREAD

INTRODUCTION = f"""\
# Commands

Every command takes a project folder or a patch file, the current folder by default, and prints for people; with
`--json` it prints one JSON document for programs. Nothing is told by colour alone; there is none where output is no
terminal or `NO_COLOR` is set. What takes more than a second shows its progress on the error stream.

| exit code | meaning |
|---|---|
| {FINE} | all is well |
| {SHOW_STOPPED} | a finding would stop the show, and the patch does not decline it |
| {BAD_INPUT} | bad input: every error of a load is told at once, each with file, line, key and the nearest valid name |
| {STOPPED} | stopped with Ctrl-C; no half-written file is left |
| 129, 143 | ended because the terminal was closed or the system asked; no half-written file is left |
| {UNREAD} | the reader of the output went away |

Every JSON document has `format` (1) and `command`. Keys may be added to it within a format, none is renamed or
dropped. Fractions are exact and stand as text (`"3/2"`); what is not finite, such as the level of silence, is `null`.
The unit is the last part of a key: `_v` volts, `_s` seconds, `_hz` hertz, `_ma` milliamps. Bad input prints `command`
`"error"` and `errors`, each with `sort`, `file`, `line`, `key`, `problem`, `found`, `expected`, `known`, `nearest`.
"""

EXAMPLES: dict[str, str] = {
    "new": "rigproof new winter-set",
    "new-sheet": "rigproof new-sheet my-filter --like multimode-filter --in winter-set",
    "check": "rigproof check winter-set",
    "explain": "rigproof explain outputs-joined",
    "volts": "rigproof volts winter-set --module filter --seconds 10",
    "trace": "rigproof trace faders.f5 --at 64 --in winter-set",
    "tour": "rigproof tour winter-set --out winter-set-tour.md",
    "render": "rigproof render winter-set --section fog --out fog.flac --stem filter.out",
    "kinds": "rigproof kinds mixer",
    "lint-sheet": "rigproof lint-sheet my-filter --notes --in winter-set",
    "schema": "rigproof schema patch > patch.schema.json",
    "open": "rigproof open winter-set",
    "demo": "rigproof demo",
}

SHAPES: dict[str, dict[str, str]] = {
    "new": {
        "folder": "the new folder",
        "files": "the files that were written",
    },
    "new-sheet": {
        "file": "the new sheet",
        "like": "the library sheet it began from, or `kinds`",
        "answers": "every question and its answer, the defaults that were taken among them",
        "counts": "how many flaws of each weight: `wrong`, `doubtful`, `note`",
        "flaws": "as `lint-sheet`",
    },
    "check": {
        "survey": "the patch in figures: `rig`, `patch`, `set`, `tempo_bpm`, counts of `modules`, `outside` (what "
        "stands beside the case), `cables` and `maps`; `rows`, `rails`, `way_out`, `loudest` (the loudest bar of the "
        "set there), `clocks` in the order of a tree, "
        "`cycle`, `length_s` and `sections` of the set",
        "counts": "how many findings of each severity nobody has declined",
        "findings": "worst first: `finding`, `severity` (`stops-the-show`, `hurts`, `worth-knowing`), `at`, `message`, "
        "`evidence` (numbers by name and unit), `fix` (`words`, `is_safe`; or null), `declined` (the reason; or null), "
        "`file`, `line`, `key`",
        "verdict": "the whole in a sentence",
        "heard": "what was played with `--seconds` or `--section`: `title`, `seconds`, `integrated_lufs`, "
        "`true_peak_dbtp`; else null",
        "changes": "with `--apply` or `--decline` what was changed in the files, and which fixes could be made: "
        "`finding`, `at`, `words`, `is_safe`, `is_made`, `refused` (why the files cannot take it; else null), `diffs` "
        "(by the name of the file, in the unified form); else null. Survey and findings are then those after it",
    },
    "explain": {
        "findings": "without a name: all of them, each with the keys below",
        "finding": "its name",
        "severity": "how much it matters",
        "family": "what it is about",
        "since": "the version that first had it",
        "parts": "`Fault`, `On stage`, `Fix`, `Blind to`, `Source`",
        "caution": "what to mind before a hand mends it, where that can hurt; else empty",
    },
    "volts": {
        "seconds": "how long was simulated; null for none",
        "jacks": "`jack`, `way`, `signal`, `is_plugged`, `proved_v` (lowest, highest), `usual` (`lo_v`, `hi_v`, "
        "`dc_v`, `rms_v` about the mean), `pulses`, `heard_after_s` (first, last; null when not heard), `seen_v`, "
        "`is_inside` (whether what was seen lies inside what is proved)",
    },
    "trace": {
        "start": "where it starts",
        "at": "where the control stands, in its own unit; null for what is no control",
        "cc": "`number`, `channel`, `value` of the MIDI message; null for none",
        "heard_after_s": "first and last; null when it is never heard",
        "told": "the whole in a sentence",
        "hops": "in the order of a tree: `index`, `parent`, `place`, `name`, `through`, `kind`, `output`, `signal`, "
        "`proved_v`, `usual`, `dbu`, `change_db` (against the control's top), `pulses`, `after_s`, `is_again`",
    },
    "tour": {
        "title": "of the set, or of the patch without one",
        "stops": "in the order of the walk: `heading` and `says`, a sentence each",
        "file": "what was written with `--out`; else null",
    },
    "render": {
        "path": "the file",
        "title": "what was rendered",
        "seconds": "its length",
        "rate_hz": "its sample rate",
        "channels": "its channels",
        "bits": "`16`, `24` or `float`",
        "peak_dbfs": "the largest sample",
        "true_peak_dbtp": "the largest value between samples too (BS.1770, four times oversampled)",
        "rms_dbfs": "of all channels together; a full-scale sine reads -3.01",
        "integrated_lufs": "gated loudness (BS.1770); null below 0.4 s and for silence",
        "short_term_max_lufs": "the loudest 3 s",
        "range_lu": "loudness range (EBU Tech 3342)",
        "clipped_samples": "how many samples stand at full scale",
        "speed_x": "how many times faster than it plays it was rendered",
        "stems": "`jack` and `path` of each",
        "stem_full_scale_v": "the voltage that a stem writes as full scale",
    },
    "kinds": {
        "kinds": "without a name: all of them, each with the keys below",
        "kind": "its name",
        "doc": "what it does, what it leaves out, its source",
        "inputs": "`name`, `doc`, `is_midi`, `is_many`, `rest_v` (what it reads while open)",
        "outputs": "the same",
        "params": "`name`, `unit`, `lo`, `hi`, `default`, `choices`, `is_many`, `doc`",
        "options": "`name`, `default`, `doc`",
        "ways": "`least`, `most`, `usual` number of ports that come in numbers; or null",
    },
    "lint-sheet": {
        "sheets": "`sheet` (its name), `file`, `counts` (how many flaws of each weight) and `flaws`, worst first: "
        "`lint`, `weight` (`wrong`, `doubtful`, `note`), `at`, `message`, `fault`, `why`, `do`, `file`, `line`",
    },
    "open": {
        "folder": "what is open",
        "link": "the page, with a key that lets one browser in once; it is printed before the first answer",
        "port": "where it listens on the loopback address",
    },
    "demo": {
        "folder": "where it stands",
        "is_copied": "false when something stood there already and was used as it is",
        "proof": "as `check`",
        "render": "as `render`",
        "next": "commands to try",
    },
}
"""The keys of every command's JSON beside `format` and `command`, in words; a test holds it to them."""


def help_text(*words: str) -> str:
    """Return a command's help as it is printed, 80 columns wide."""
    from rich.console import Console

    stream = io.StringIO()
    make_app()([*words, "--help"], console=Console(file=stream, width=80), exit_on_error=False)
    return "\n".join(line.rstrip() for line in stream.getvalue().strip().splitlines())


def commands_page() -> str:
    """Return the page."""
    parts = [INTRODUCTION]
    for name, _, _ in COMMANDS:
        parts.append(f"## {name}\n\n```text\n{help_text(name)}\n```\n")
        parts.append(f"For example:\n\n```sh\n{EXAMPLES[name]}\n```\n")
        if name in SHAPES:
            rows = "\n".join(f"| `{key}` | {words} |" for key, words in SHAPES[name].items())
            parts.append(f"Its JSON:\n\n| key | holds |\n|---|---|\n{rows}\n")
    return "\n".join(parts)
