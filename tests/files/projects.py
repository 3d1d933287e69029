"""A small good project, copied to where a test may spoil it."""

import shutil
from pathlib import Path

DATA = Path(__file__).resolve().parent / "data"
TIDEPOOL = DATA / "tidepool"
PATCH = "tidepool.patch.toml"
SET = "tidepool.set.toml"


def copy_tidepool(folder: Path) -> Path:
    """Copy the good project into a folder and return where it is."""
    return Path(shutil.copytree(TIDEPOOL, folder / "tidepool"))


def spoil(project: Path, file: str, old: str, new: str) -> None:
    """Replace a piece of a file that stands there once."""
    path = project / file
    text = path.read_text("utf-8")
    assert text.count(old) == 1, f"{old!r} stands {text.count(old)} times in {file}"
    path.write_text(text.replace(old, new), "utf-8")
