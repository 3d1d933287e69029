"""`rigproof schema`: the shape of a project file, for editors and other programs."""

from __future__ import annotations

from typing import Annotated

from cyclopts import Parameter


def schema(
    sort: Annotated[str, Parameter(help="rig, patch, set, inside or sheet")],
    /,
) -> int:
    """Print the JSON Schema of a project file."""
    from rigproof.cli.problems import unknown
    from rigproof.cli.screen import FINE
    from rigproof.files.schema import json_schema_text
    from rigproof.files.shapes import FILES

    if sort not in FILES:
        raise unknown("sort of file", sort, FILES)
    print(json_schema_text(sort), end="")
    return FINE
