"""Imports run one way, and only some rooms touch the outside world.

Every file is parsed, so imports hidden inside functions are seen too.
"""

import ast
from collections.abc import Iterator
from pathlib import Path

import pytest

PACKAGE = Path(__file__).resolve().parent.parent / "src" / "rigproof"

BASE = {"units", "errors"}
KINDS = BASE | {"model", "kinds"}
READINGS = KINDS | {"net", "readings"}
PLAN = READINGS | {"engine", "measure", "checks", "plan"}
PAPERS = PLAN | {"papers"}

MAY_IMPORT: dict[str, set[str]] = {
    "units": set(),
    "errors": set(),
    "measure": BASE,
    "model": BASE,
    "files": BASE | {"model"},
    "kinds": BASE | {"model"},
    "library": set(),
    "demo": BASE,  # a script that writes its samples; everything else in it is data
    "net": KINDS,
    "readings": KINDS | {"net"},
    "engine": KINDS | {"net"},
    "checks": READINGS,  # not engine: checking starts fast
    "plan": PLAN - {"plan"},
    "papers": PAPERS - {"papers"},
    "web": PAPERS | {"files"},
    "cli": PAPERS | {"files", "web"},
    "__init__": set(),
    "__main__": {"cli"},
}
"""Each room, and the rooms whose names may stand in its imports; its own name always may."""

ONLY_ENGINE = {"numba", "llvmlite"}
OUTSIDE_MODULES = {
    "asyncio",
    "ctypes",
    "fcntl",
    "http",
    "io",
    "logging",
    "mmap",
    "multiprocessing",
    "os",
    "rtmidi",
    "selectors",
    "shutil",
    "signal",
    "socket",
    "socketserver",
    "sounddevice",
    "soundfile",
    "ssl",
    "starlette",
    "subprocess",
    "tempfile",
    "tomlkit",
    "tomllib",
    "typst",
    "urllib",
    "uvicorn",
    "webbrowser",
    "websockets",
}
OUTSIDE_CALLS = {"open", "print", "input", "breakpoint", "exec", "eval"}
OUTSIDE_METHODS = {
    "exists",
    "fromfile",
    "glob",
    "is_dir",
    "is_file",
    "iterdir",
    "loadtxt",
    "mkdir",
    "read_bytes",
    "read_text",
    "rglob",
    "rmdir",
    "savetxt",
    "tofile",
    "unlink",
    "write_bytes",
    "write_text",
}
COMPUTED = "a name computed while running"
MAY_TOUCH_OUTSIDE = (
    "files/",
    "demo/",
    "engine/device",
    "engine/kernel_cache",
    "papers/draw",
    "web/",
    "cli/",
)


def room_of(name: str) -> str:
    """The room that a path inside the package stands in: `model/rig.py` and `units.py` give model, units."""
    return name.split("/")[0].removesuffix(".py")


def imported(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Every dotted name that is imported anywhere in a file, with its line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((node.lineno, alias.name) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            stem = "." * node.level + (node.module or "")
            yield from ((node.lineno, f"{stem}.{alias.name}") for alias in node.names)
        elif isinstance(node, ast.Call) and ast.unparse(node.func).endswith(
            ("import_module", "__import__")
        ):
            first = node.args[0] if node.args else None
            name = first.value if isinstance(first, ast.Constant) else None
            yield node.lineno, name if isinstance(name, str) else COMPUTED


def called(tree: ast.AST) -> Iterator[tuple[int, str]]:
    """Every call that could reach the outside world, with its line."""
    for node in ast.walk(tree):
        if isinstance(node, ast.Call):
            match node.func:
                case ast.Name(id=name) if name in OUTSIDE_CALLS:
                    yield node.lineno, f"{name}()"
                case ast.Attribute(attr=name) if name in OUTSIDE_METHODS:
                    yield node.lineno, f".{name}()"


def faults(name: str, source: str) -> list[str]:
    """What one file does that its room may not; `name` is its path inside the package."""
    tree = ast.parse(source)
    room = room_of(name)
    found = []
    for line, target in imported(tree):
        if target.startswith("."):
            found.append(f"{name}:{line} imports {target} by a relative name")
        elif target == COMPUTED:
            found.append(f"{name}:{line} imports {target}")
        top, _, rest = target.partition(".")
        if top == "rigproof":
            other = rest.split(".")[0]
            is_room = other in MAY_IMPORT or (PACKAGE / other).is_dir()
            if is_room and other not in MAY_IMPORT[room] | {room}:
                found.append(f"{name}:{line} room {room} imports room {other}")
        elif top in ONLY_ENGINE and room != "engine":
            found.append(f"{name}:{line} imports {top}; only engine may")
        elif top in OUTSIDE_MODULES and not name.startswith(MAY_TOUCH_OUTSIDE):
            found.append(f"{name}:{line} imports {top}, which reaches the outside world")
    if not name.startswith(MAY_TOUCH_OUTSIDE):
        found += [f"{name}:{line} calls {call}" for line, call in called(tree)]
    return found


FILES = sorted(path.relative_to(PACKAGE).as_posix() for path in PACKAGE.rglob("*.py"))


def test_every_file_keeps_to_its_room() -> None:
    found = [fault for name in FILES for fault in faults(name, (PACKAGE / name).read_text("utf-8"))]
    assert not found, "\n" + "\n".join(found)


def test_every_room_has_a_row() -> None:
    assert {room_of(name) for name in FILES} <= set(MAY_IMPORT)


def test_rooms_form_no_cycle() -> None:
    """A table that allowed a cycle would hold nothing: each room must stand after all that it may import."""
    done: set[str] = set()
    left = dict(MAY_IMPORT)
    while ready := [room for room, others in left.items() if others <= done]:
        done.update(ready)
        for room in ready:
            del left[room]
    assert not left


def test_library_holds_only_data() -> None:
    for path in (PACKAGE / "library").rglob("*.py"):
        assert path.name == "__init__.py"
        body = ast.parse(path.read_text("utf-8")).body
        assert all(isinstance(node, ast.Expr) for node in body), (
            f"{path.name} holds more than words"
        )


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("checks/levels.py", "from rigproof.engine.render import render"),
        ("checks/levels.py", "def late():\n    import rigproof.engine"),
        ("checks/levels.py", "from rigproof import engine"),
        ("checks/levels.py", "import importlib\nimportlib.import_module('rigproof.engine')"),
        ("checks/levels.py", "import importlib\nimportlib.import_module(name)"),
        ("plan/case.py", "from rigproof.files import load"),
        ("kinds/slew.py", "from numba import njit"),
        ("model/rig.py", "from ..kinds import KINDS"),
        ("measure/loudness.py", "from rigproof.model import rig"),
        ("readings/volts.py", "from rigproof.engine import schedule"),
        ("papers/layout.py", "open('page.pdf')"),
        ("net/flatten.py", "print('here')"),
        ("engine/render.py", "path.write_bytes(b'')"),
        ("engine/render.py", "import socket"),
    ],
)
def test_a_fault_is_seen(name: str, source: str) -> None:
    assert faults(name, source)


@pytest.mark.parametrize(
    ("name", "source"),
    [
        ("checks/levels.py", "from rigproof.readings.volts import volts\nimport math"),
        ("engine/device.py", "def late():\n    import sounddevice"),
        ("engine/compile.py", "import numba"),
        (
            "cli/__init__.py",
            "from rigproof import __version__\nfrom rigproof.files import load\nprint()",
        ),
        ("papers/draw.py", "import typst"),
        ("measure/loudness.py", "import numpy\nfrom rigproof.units import db"),
    ],
)
def test_what_is_allowed_passes(name: str, source: str) -> None:
    assert not faults(name, source)
