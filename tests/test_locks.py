"""Lock files pin versions and hashes, hold on every machine, and fit pyproject.toml."""

import json
import re
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement
from packaging.utils import canonicalize_name
from packaging.version import Version

ROOT = Path(__file__).resolve().parent.parent
LOCKS = sorted((ROOT / "locks").glob("*.txt"))
NPM_LOCKS = sorted(
    path for path in ROOT.glob("src/**/package-lock.json") if "node_modules" not in path.parts
)
ADDRESS = re.compile(r"://|^--|\bfile:", re.MULTILINE)
PIN = re.compile(r"^([a-z0-9-]+)==(\S+)(?: ; [^\\]*)? \\$")


def pins(name: str) -> dict[str, str]:
    """Package to version, as locked."""
    found = {}
    for line in (ROOT / "locks" / name).read_text("utf-8").splitlines():
        if not line.startswith((" ", "#")):
            match = PIN.match(line)
            assert match, f"{name}: {line}"
            found[match[1]] = match[2]
    return found


def test_there_are_four_locks_and_one_of_the_page() -> None:
    assert [path.name for path in LOCKS] == ["dev.txt", "node.txt", "runtime.txt", "setup.txt"]
    assert [path.parent.name for path in NPM_LOCKS] == ["ui"]


@pytest.mark.parametrize("path", LOCKS, ids=lambda path: path.name)
def test_no_addresses_and_no_options(path: Path) -> None:
    assert not ADDRESS.findall(path.read_text("utf-8"))


@pytest.mark.parametrize(
    "text", ["x @ https://example.org/x.whl", "--extra-index-url x", "x @ file:wheels/x.whl"]
)
def test_an_address_is_seen(text: str) -> None:
    assert ADDRESS.search(text)


@pytest.mark.parametrize("path", LOCKS, ids=lambda path: path.name)
def test_every_pin_has_hashes(path: Path) -> None:
    blocks = re.split(r"^(?=\S)", path.read_text("utf-8"), flags=re.MULTILINE)[1:]
    assert len(blocks) == len(pins(path.name))
    for block in blocks:
        assert re.search(r"--hash=sha256:[0-9a-f]{64}\b", block), block.splitlines()[0]


def test_dev_holds_all_of_runtime() -> None:
    assert pins("runtime.txt").items() <= pins("dev.txt").items()


def test_locks_fit_pyproject() -> None:
    """Each requirement is pinned at a version it admits; `./check lock` mends it."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    wanted = {
        "runtime.txt": project["project"]["dependencies"],
        "dev.txt": project["dependency-groups"]["dev"],
    }
    for name, lines in wanted.items():
        locked = pins(name)
        for line in lines:
            requirement = Requirement(line)
            version = locked.get(canonicalize_name(requirement.name))
            assert version, f"locks/{name} lacks {requirement.name}; run ./check lock"
            assert Version(version) in requirement.specifier


@pytest.mark.parametrize("path", NPM_LOCKS, ids=lambda path: path.parent.name)
def test_npm_lock_has_no_addresses(path: Path) -> None:
    text = path.read_text("utf-8")
    assert '"resolved"' not in text
    packages = json.loads(text)["packages"]
    assert not ADDRESS.findall("".join(_versions(packages)))
    assert all("integrity" in entry for name, entry in packages.items() if name)


def _versions(packages: dict[str, dict[str, Any]]) -> Iterator[str]:
    """Every version that is asked for or pinned, a line each; what else the lock holds is homepages of sponsors."""
    for entry in packages.values():
        yield f"{entry.get('version', '')}\n"
        for key in ("dependencies", "devDependencies", "optionalDependencies", "peerDependencies"):
            yield from (f"{version}\n" for version in entry.get(key, {}).values())


def test_npm_keeps_addresses_out_and_runs_no_scripts_of_packages() -> None:
    said = (ROOT / "src" / "rigproof" / "web" / "ui" / ".npmrc").read_text("utf-8").splitlines()
    wanted = {"omit-lockfile-registry-resolved=true", "ignore-scripts=true"}
    assert wanted <= set(said)
    assert not ADDRESS.findall("\n".join(said))
