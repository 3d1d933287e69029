"""What is installed from a built wheel: all of src/rigproof, data too, and the rigproof command."""

import shutil
import tarfile
import zipfile
from pathlib import Path

import pytest

import rigproof

ROOT = Path(__file__).resolve().parent.parent
PACKAGE = ROOT / "src" / "rigproof"


@pytest.fixture(scope="module")
def built(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with a wheel and a source archive, built without the network."""
    from hatchling import build

    folder = tmp_path_factory.mktemp("built")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(ROOT)
        build.build_wheel(str(folder))
        build.build_sdist(str(folder))
    return folder


def test_wheel_holds_every_file_of_the_package_and_the_command(built: Path) -> None:
    with zipfile.ZipFile(next(built.glob("*.whl"))) as wheel:
        names = set(wheel.namelist())
        script = wheel.read(f"rigproof-{rigproof.__version__}.dist-info/entry_points.txt").decode()
    assert "rigproof = rigproof.cli:main" in script
    wanted = {
        f"rigproof/{path.relative_to(PACKAGE).as_posix()}"
        for suffix in ("py", "toml", "typed")
        for path in PACKAGE.rglob(f"*.{suffix}")
        if "node_modules" not in path.parts
    }
    assert wanted <= names
    assert not [name for name in names if "node_modules" in name or "__pycache__" in name]


def test_page_is_packed_once_it_is_built_and_its_source_only_in_the_source_archive(
    tmp_path: Path,
) -> None:
    """In a small copy, so that it holds whether or not the page is built here."""
    from hatchling import build

    for name in ("pyproject.toml", "README.md", "CHANGELOG.md", "LICENSE", ".gitignore"):
        shutil.copy(ROOT / name, tmp_path)
    inside = ("__init__.py", "web/page/index.html", "web/page/assets/a.js", "web/ui/src/main.ts")
    for name in (*inside, "web/ui/node_modules/x/index.js"):
        path = tmp_path / "src" / "rigproof" / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.touch()
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(tmp_path)
        build.build_wheel(str(tmp_path))
        build.build_sdist(str(tmp_path))
    with zipfile.ZipFile(next(tmp_path.glob("*.whl"))) as wheel:
        packed = {name for name in wheel.namelist() if name.startswith("rigproof/")}
    assert packed == {f"rigproof/{name}" for name in inside if "/ui/" not in name}
    with tarfile.open(next(tmp_path.glob("*.tar.gz"))) as archive:
        names = {name.split("/", 1)[1] for name in archive.getnames()}
    assert {f"src/rigproof/{name}" for name in inside} <= names
    assert not [name for name in names if "node_modules" in name]


def test_source_archive_holds_licence_and_sources(built: Path) -> None:
    with tarfile.open(next(built.glob("*.tar.gz"))) as archive:
        names = {name.split("/", 1)[1] for name in archive.getnames()}
    assert {"LICENSE", "README.md", "pyproject.toml", "src/rigproof/__init__.py"} <= names


def test_versions_agree() -> None:
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))["project"]
    assert project["version"] == rigproof.__version__
