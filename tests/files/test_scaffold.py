"""A new project loads as it is, says how to be careful, and overwrites nothing."""

import re
import tomllib
from pathlib import Path

import pytest

from rigproof.errors import FileError, Where
from rigproof.files import scaffold
from rigproof.files.atomic import write_whole
from rigproof.files.load import load_project
from rigproof.files.scaffold import create_project
from rigproof.net.flatten import flatten


def test_a_new_project_loads_as_it_is(tmp_path: Path) -> None:
    files = create_project(tmp_path / "low-tide")
    assert [f.name for f in files] == ["rig.toml", "low-tide.patch.toml", "low-tide.set.toml"]
    project = load_project(tmp_path / "low-tide").require_project()
    assert project.rig.name == project.patch.name == "Low Tide"
    assert project.setlist is not None
    assert project.setlist.sections[0].id == "intro"
    flatten(project)


def test_what_stands_in_comments_loads_too(tmp_path: Path) -> None:
    """Every example line is good TOML of the format: without its '#', the file still fits."""
    folder = tmp_path / "x"
    create_project(folder)
    for path in folder.glob("*.toml"):
        text = path.read_text("utf-8")
        bare = re.sub(
            r"^( *)# (?=[\[{}a-z.-]+[\]\d.a-z-]* ?[=\]}]|\[|\{|\w+ = )",
            r"\1",
            text,
            flags=re.MULTILINE,
        )
        assert bare != text
        tomllib.loads(bare)
        path.write_text(bare, "utf-8")
    problems = {error.problem for error in load_project(folder).errors}
    assert problems == {
        "there is no sheet 'my-mixer'",
        "there is no sheet 'my-faders'",
        "there is no such sample",
    }


def test_cautions_are_given_where_work_can_hurt(tmp_path: Path) -> None:
    create_project(tmp_path / "x")
    words = " ".join((tmp_path / "x/rig.toml").read_text("utf-8").replace("#", "").split())
    for caution in ("wrong way round", "mains", "makers' manuals", "licensed people"):
        assert caution in words


@pytest.mark.parametrize(
    ("called", "name", "title"),
    [("Mein Rig ü", "mein-rig-u", "Mein Rig Ü"), ("low-tide 2", "low-tide-2", "Low Tide 2")],
)
def test_a_folder_may_be_called_as_people_call_folders(
    tmp_path: Path, called: str, name: str, title: str
) -> None:
    create_project(tmp_path / called)
    loaded = load_project(tmp_path / called).require_project()
    assert (tmp_path / called / f"{name}.patch.toml").is_file()
    assert (loaded.rig.name, loaded.patch.name) == (title, title)


@pytest.mark.parametrize("called", ["---", "日本"])
def test_a_folder_without_a_letter_for_an_id_is_refused(tmp_path: Path, called: str) -> None:
    with pytest.raises(FileError) as caught:
        create_project(tmp_path / called)
    assert caught.value.found == f"'{called}'"
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("title", ['Say "hi"', "back\\slash", "{braces}", "ümlaut", "two\nlines"])
def test_any_title_is_written_so_that_it_can_be_read(tmp_path: Path, title: str) -> None:
    create_project(tmp_path / "x", title=title)
    loaded = load_project(tmp_path / "x").require_project()
    assert loaded.rig.name == title.replace("\n", " ")


def test_a_folder_that_holds_anything_is_left_alone(tmp_path: Path) -> None:
    (tmp_path / "note.txt").write_text("mine")
    with pytest.raises(FileError):
        create_project(tmp_path, name="x")
    assert [p.name for p in tmp_path.iterdir()] == ["note.txt"]


@pytest.mark.parametrize("name", ["Ünder", "a b/c", "", "a.b", "..", "a\0"])
def test_a_name_that_is_no_id_is_refused_before_anything_is_made(tmp_path: Path, name: str) -> None:
    with pytest.raises(FileError):
        create_project(tmp_path / "x", name=name)
    assert not (tmp_path / "x").exists()


@pytest.mark.parametrize("title", ["\x1b[2J", "x" * 5000])
def test_a_title_that_could_not_be_loaded_is_refused(tmp_path: Path, title: str) -> None:
    with pytest.raises(FileError):
        create_project(tmp_path / "x", title=title)


def test_a_file_in_the_way_is_told(tmp_path: Path) -> None:
    (tmp_path / "x").write_text("mine")
    with pytest.raises(FileError):
        create_project(tmp_path / "x")


@pytest.mark.parametrize("failure", [FileError(Where("rig.toml"), "full"), KeyboardInterrupt()])
@pytest.mark.parametrize("is_there", [True, False])
def test_a_start_that_fails_leaves_the_place_as_it_was(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, failure: BaseException, is_there: bool
) -> None:
    """A full disk or Ctrl-C at the second file: the next start finds no folder that is not empty."""
    folder = tmp_path / "x"
    if is_there:
        folder.mkdir()

    def fail_at_the_patch(path: Path, data: bytes, inside: Path) -> None:
        if path.name == "x.patch.toml":
            raise failure
        write_whole(path, data, inside)

    monkeypatch.setattr(scaffold, "write_whole", fail_at_the_patch)
    with pytest.raises(type(failure)):
        create_project(folder)
    assert list(tmp_path.rglob("*")) == ([folder] if is_there else [])
    monkeypatch.undo()
    assert len(create_project(folder)) == 3
