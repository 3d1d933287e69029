"""The JSON Schemas: committed as they are made, true to what loads, and of some use against what does not."""

import re
import tomllib
from pathlib import Path
from typing import Any

import jsonschema
import pytest

from rigproof.errors import ShapeError
from rigproof.files.lines import DEPTH_LIMIT
from rigproof.files.load import load_project
from rigproof.files.reading import ERRORS_LIMIT, Report, read_table
from rigproof.files.schema import json_schema, json_schema_text, keys_page
from rigproof.files.shapes import CABLES_LIMIT, FILES, MODULES_LIMIT, Table
from rigproof.files.sounds import CHANNELS_LIMIT, FILE_LIMIT_BYTES, SAMPLES_LIMIT
from rigproof.files.text import TEXT_LIMIT_BYTES
from rigproof.files.toml_text import parse_toml
from tests.files.projects import DATA, TIDEPOOL, copy_tidepool, spoil
from tests.files.test_broken_files import TABLE, Broken

ROOT = Path(__file__).resolve().parent.parent.parent
LIBRARY = ROOT / "src/rigproof/library"


def sort_of(path: Path) -> str:
    """The sort of a project file, by its name."""
    for ending, sort in ((".patch.toml", "patch"), (".set.toml", "set"), ("rig.toml", "rig")):
        if path.name.endswith(ending):
            return sort
    return "sheet"


def every_file() -> list[Path]:
    """All project files and sheets that come along, and those of the tests."""
    found = [*LIBRARY.glob("*.toml"), *DATA.rglob("*.toml")]
    for rig in (ROOT / "src/rigproof").rglob("rig.toml"):
        found.extend(rig.parent.rglob("*.toml"))
    return sorted(set(found))


def validator(sort: str) -> Any:
    return jsonschema.Draft202012Validator(json_schema(sort))


@pytest.mark.parametrize("sort", FILES)
def test_the_schema_is_a_schema(sort: str) -> None:
    jsonschema.Draft202012Validator.check_schema(json_schema(sort))


@pytest.mark.parametrize("sort", FILES)
def test_the_committed_schema_is_the_one_that_is_made(sort: str) -> None:
    committed = (ROOT / f"docs/schema/{sort}.json").read_text("utf-8")
    assert committed == json_schema_text(sort), "write it anew: python docs/write_schemas.py"


@pytest.mark.parametrize("path", every_file(), ids=lambda p: f"{p.parent.name}/{p.name}")
def test_every_file_that_comes_along_fits_its_schema(path: Path) -> None:
    validator(sort_of(path)).validate(tomllib.loads(path.read_text("utf-8")))


BLIND_TO = (
    "stands twice", "twice", "one way", "which way", "go with", "short", "nowhere to go", "above 0", "fits",
    "0 to 2", "in %", "in s or ms", "the lower first", "finite", "found: nan", "\\x1b", "hidden",
    "a whole number", "in the same folder",
)  # fmt: skip
"""Rules between keys and inside texts, numbers that are none: a schema of shapes does not hold these."""


def is_shape_fault(broken: Broken) -> bool:
    return broken.sort is ShapeError and broken.says not in BLIND_TO


@pytest.mark.parametrize(
    "broken",
    [b for b in TABLE if is_shape_fault(b)],
    ids=lambda b: b.new[:24].encode("unicode_escape").decode(),
)
def test_the_schema_sees_faults_of_shape(tmp_path: Path, broken: Broken) -> None:
    project = copy_tidepool(tmp_path)
    spoil(project, broken.file, broken.old, broken.new)
    path = project / broken.file
    with pytest.raises(jsonschema.ValidationError):
        validator(sort_of(path)).validate(tomllib.loads(path.read_text("utf-8")))


def test_both_spellings_of_settings_fit() -> None:
    schema = validator("patch")
    schema.validate({"format": 1, "settings": {"a.b": 1, "c": {"d": "180 ms"}}})
    with pytest.raises(jsonschema.ValidationError):
        schema.validate({"format": 1, "settings": {"c": 1}})


def test_the_page_lists_every_key() -> None:
    page = keys_page()
    assert page.count("## ") == len(FILES)

    def names(table: Table) -> list[str]:
        inner = [k.takes for k in table.keys.values()]
        below = [getattr(t, "item", t) for t in inner]
        return [*table.keys, *(n for t in below if isinstance(t, Table) for n in names(t))]

    for table in FILES.values():
        for name in names(table):
            assert f"{name}` |" in page


def test_the_good_project_loads() -> None:
    """So that what fits the schema here is also what loads."""
    assert load_project(TIDEPOOL).errors == ()


def examples() -> list[tuple[str, str]]:
    """Every whole file that docs/files.md shows, by the heading above it."""
    found = []
    for part in re.split(r"^## ", (ROOT / "docs/files.md").read_text("utf-8"), flags=re.MULTILINE):
        heading = part.split("\n")[0]
        blocks = re.findall(r"```toml\n(.*?)```", part, flags=re.DOTALL)
        found += [(heading, block) for block in blocks if block.startswith("format = 1")]
    return found


def test_what_the_docs_show_is_read_as_it_stands() -> None:
    sorts = {
        "Rig": "rig",
        "Patch": "patch",
        "Set": "set",
        "Module sheet": "sheet",
        "Inside a host": "inside",
    }
    shown = examples()
    assert [sorts[heading] for heading, _ in shown] == list(FILES)
    for heading, text in shown:
        raw, lines = parse_toml(text, heading)
        report = Report(lines)
        read_table(FILES[sorts[heading]], raw, report)
        assert report.errors == []
        validator(sorts[heading]).validate(raw)


@pytest.mark.parametrize(
    "limit",
    [
        TEXT_LIMIT_BYTES,
        CABLES_LIMIT,
        MODULES_LIMIT,
        DEPTH_LIMIT,
        ERRORS_LIMIT,
        SAMPLES_LIMIT,
        CHANNELS_LIMIT,
        FILE_LIMIT_BYTES,
    ],
)
def test_the_docs_state_the_limits(limit: int) -> None:
    text = (ROOT / "docs/files.md").read_text("utf-8")
    assert re.search(rf"\b({limit}|{limit:,})\b", text.partition("## Limits")[2])
