"""Arguments that several commands share."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

Target = Annotated[
    Path | None, Parameter(help="a project folder or a patch file; the current folder by default")
]
AsJson = Annotated[
    bool, Parameter("--json", negative="", show_default=False, help="print for programs")
]
PatchOption = Annotated[
    Path | None,
    Parameter("--in", help="a project folder or a patch file; the current folder by default"),
]
