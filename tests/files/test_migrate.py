"""The way from an older format, walked with a table made up for the test: there is only one real format so far."""

from typing import Any

import pytest

from rigproof.errors import FileError
from rigproof.files.migrate import MIGRATIONS, require_format
from rigproof.files.shapes import FILES, FORMAT
from rigproof.files.toml_text import parse_toml


def rename_row(raw: dict[str, Any]) -> dict[str, Any]:
    return {**{k: v for k, v in raw.items() if k != "shelf"}, "row": raw["shelf"]}


def count_rows(raw: dict[str, Any]) -> dict[str, Any]:
    return {**raw, "rows": [raw["row"]]}


def test_an_old_file_is_taken_through_every_version() -> None:
    raw, lines = parse_toml("format = 1\nshelf = 2\n", "rig.toml")
    table = {("rig", 1): rename_row, ("rig", 3): count_rows, ("patch", 2): rename_row}
    newest = require_format(raw, "rig", lines, migrations=table, newest=4)
    assert newest == {"format": 4, "row": 2, "rows": [2]}
    assert raw == {"format": 1, "shelf": 2}


def test_a_file_of_the_newest_format_is_left_alone() -> None:
    raw, lines = parse_toml(f"format = {FORMAT}\na = 1\n", "rig.toml")
    assert require_format(raw, "rig", lines) == raw


def test_a_newer_file_is_refused_with_both_versions() -> None:
    raw, lines = parse_toml(f"\nformat = {FORMAT + 1}\n", "rig.toml")
    with pytest.raises(FileError) as caught:
        require_format(raw, "rig", lines)
    assert caught.value.where.line == 2
    assert caught.value.found == f"format {FORMAT + 1}"


def test_every_migration_is_of_a_real_sort_and_an_older_version() -> None:
    assert all(sort in FILES and 1 <= version < FORMAT for sort, version in MIGRATIONS)
