"""Make .venv fit to run, then run something in it. Needs nothing but Python's standard library.

    bootstrap.py runtime|dev  ARGS FOR PYTHON...

Each step is stamped with a hash of what it was made from, so a later start only compares hashes. A step drops its
stamp before it begins and writes it when it is done, so a start that was broken off is taken up where it stood.
A lock file lets one start work while others wait. Whatever pip or uv say is shown only when they fail, and without
the addresses they spoke to.

The commands that show the app's page also have it built (`setup/front.py`). When that fails they are started all the
same: the rest of rigproof works without it.
"""

import contextlib
import fcntl
import hashlib
import os
import platform
import re
import shutil
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import NamedTuple, NoReturn

ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
STAMPS = VENV / "stamps"
PYTHON = VENV / "bin" / "python"
EXIT_NOT_SET_UP = 3  # beside rigproof's own 0, 1 and 2
LEVELS = ("runtime", "dev")  # each holds all of the one before
ASKS_HELP = {"--help", "-h"}
SHOW_PAGE = {  # commands that show the app's page, unless they are told one of these
    "open": ASKS_HELP,
    "demo": {"--no-open", *ASKS_HELP},
}
ADDRESS = re.compile(r"[a-z+]+://[^\s'\")]+")
HOST = re.compile(r"://(?:[^/@\s]*@)?([\w.-]+)|host='([^']+)'|located at (\S+)|host=\"([^\"]+)\"")
OFFLINE = re.compile(
    r"resolve host|name resolution|dns error|unreachable|refused|timed out|error sending request"
    r"|failed to fetch|NewConnectionError|No matching distribution|ENOTFOUND|EAI_AGAIN|ECONNRESET|ETIMEDOUT",
    re.IGNORECASE,
)


class SetupError(Exception):
    """A step failed in a way that the person at the keyboard can mend."""


class Step(NamedTuple):
    """One thing to make, and the text that, when it changes, means making it again."""

    name: str
    inputs: str
    does: str
    make: Callable[[], None]
    leaves: Path | None = None  # when this is gone, the step is due again


def say(text: str) -> None:
    """Show one progress line."""
    print(f"rigproof: {text}", file=sys.stderr, flush=True)


def run(*command: str | Path, cwd: Path | None = None, **settings: str) -> None:
    """Run a tool quietly; when it fails, raise with the end of what it said. `settings` go into its environment."""
    env = {key: value for key, value in os.environ.items() if key != "VIRTUAL_ENV"}
    env |= {"PYTHONNOUSERSITE": "1", "UV_PYTHON_DOWNLOADS": "never"} | settings
    if index := env.get("PIP_INDEX_URL"):
        env.setdefault("UV_DEFAULT_INDEX", index)
    if not has_writable_cache(env):
        env |= {"UV_NO_CACHE": "1", "PIP_NO_CACHE_DIR": "1"}
    done = subprocess.run(
        [str(part) for part in command],
        env=env,
        cwd=cwd or ROOT,
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.STDOUT,
        text=True,
        errors="replace",
        check=False,
        close_fds=False,  # the tool holds the lock too, should this start be killed over its head
    )
    if done.returncode:
        said = [line for line in without_addresses(done.stdout).splitlines() if line.strip()]
        tail = "\n".join(f"    {line}" for line in said[-8:])
        hint = ""
        if OFFLINE.search(done.stdout):
            hint = "\n  It looks as if the package index cannot be reached. Setting up needs the network once."
        raise SetupError(f"{tail}{hint}")


def without_addresses(text: str) -> str:
    """The text without the addresses it holds, and without their hosts wherever else they stand."""
    hosts = {host for groups in HOST.findall(text) for host in groups if host}
    text = ADDRESS.sub("(address)", text)
    for host in sorted(hosts, key=len, reverse=True):
        text = text.replace(host, "(host)")
    return text


def has_writable_cache(env: dict[str, str]) -> bool:
    """Whether uv and pip can keep downloads for the next time."""
    home = Path(env.get("HOME") or os.devnull)
    cache = Path(
        env.get("UV_CACHE_DIR") or Path(env.get("XDG_CACHE_HOME") or home / ".cache", "uv")
    )
    try:
        cache.mkdir(parents=True, exist_ok=True)
    except OSError:
        return False
    return os.access(cache, os.W_OK)


def make_venv() -> None:
    """Start from nothing; half a .venv is worth less than none."""
    if VENV.exists():
        shutil.rmtree(VENV)
    run(base_python(), "-m", "venv", VENV)


def base_python() -> str:
    """The Python that .venv is made from, even when .venv's own is asking."""
    return getattr(sys, "_base_executable", None) or sys.executable


def make_uv() -> None:
    """Let pip fetch uv, which fetches the rest faster."""
    pip = (PYTHON, "-m", "pip", "install", "--quiet", "--no-input", "--retries=2")
    # What an interruption left half written counts as installed, so it is not trusted.
    run(
        *pip,
        "--ignore-installed",
        "--require-hashes",
        "--no-deps",
        "--only-binary=:all:",
        "-r",
        "locks/setup.txt",
    )


def make_packages(level: str) -> None:
    """Make .venv hold what the lock lists and nothing else."""
    options = ["--require-hashes", "--only-binary=:all:", "--system-certs"]
    begun = STAMPS / "packages-begun"
    if begun.exists():
        options.append("--reinstall")  # an interruption may have left half a package
    begun.touch()
    uv = VENV / "bin" / "uv"
    run(uv, "pip", "sync", "--quiet", "--python", PYTHON, *options, f"locks/{level}.txt")
    begun.unlink()


def make_path() -> None:
    """Let .venv import rigproof from src; relative, so that the folder may be moved."""
    for packages in VENV.glob("lib/python3*/site-packages"):
        (packages / "rigproof.pth").write_text(os.path.relpath(ROOT / "src", packages) + "\n")


def read_lock(name: str) -> str:
    """The text of one lock file."""
    return (ROOT / "locks" / f"{name}.txt").read_text(encoding="utf-8")


def steps(level: str) -> list[Step]:
    """All steps in order for one level."""
    packages = read_lock(level)
    version = "{}.{} {}".format(*sys.version_info[:2], platform.machine())
    return [
        Step("venv", version, f"making .venv with Python {platform.python_version()}", make_venv),
        Step("uv", read_lock("setup"), "fetching uv, the installer", make_uv),
        Step(
            "packages",
            level + packages,
            f"installing {packages.count('==')} packages",
            lambda: make_packages(level),
        ),
        Step("path", str(sys.version_info[:2]), "linking src", make_path),
    ]


def digest(text: str) -> str:
    """A short name for a step's inputs."""
    return hashlib.sha256(text.encode()).hexdigest()[:16]


def stamped(name: str) -> str:
    """What a step was last made from; empty when it never was."""
    try:
        return (STAMPS / name).read_text()
    except OSError:
        return ""


def not_done(wanted: list[Step]) -> list[Step]:
    """The first step that is not done, and all after it, which stand on it."""
    for index, step in enumerate(wanted):
        is_lost = step.leaves is not None and not step.leaves.exists()
        if is_lost or stamped(step.name) != digest(step.inputs):
            return wanted[index:]
    return []


def due(level: str) -> list[Step]:
    """The steps that are not done, and all that stand on them."""
    wanted = steps(level)
    return not_done(wanted) if PYTHON.exists() else wanted


def level_to_keep(level: str) -> str:
    """The level asked for, or a higher one that .venv already has."""
    for higher in reversed(LEVELS[LEVELS.index(level) :]):
        if (STAMPS / f"level-{higher}").exists():
            return higher
    return level


@contextlib.contextmanager
def alone() -> Iterator[None]:
    """Hold the set-up lock; say so when another start has it."""
    with (ROOT / ".venv.lock").open("w") as lock:
        try:
            fcntl.flock(lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            say("another start is setting up; waiting for it")
            fcntl.flock(lock, fcntl.LOCK_EX)
        os.set_inheritable(lock.fileno(), True)
        yield


def do(todo: list[Step]) -> None:
    """Do steps in their order, and stamp each that is done."""
    for step in todo:
        say(f"{step.does} ...")
        (STAMPS / step.name).unlink(missing_ok=True)
        step.make()
        STAMPS.mkdir(parents=True, exist_ok=True)
        partial = STAMPS / f".{step.name}"
        partial.write_text(digest(step.inputs))
        partial.replace(STAMPS / step.name)


def set_up(level: str) -> None:
    """Do the steps that are due."""
    if not due(level_to_keep(level)):
        return
    with alone():
        level = level_to_keep(level)
        began_s = time.monotonic()
        todo = due(level)
        do(todo)
        (STAMPS / f"level-{level}").touch()
        if todo:
            say(f"ready after {time.monotonic() - began_s:.1f} s")


def shows_page(arguments: list[str]) -> bool:
    """Whether what is started is a command of rigproof that shows the app's page."""
    if "rigproof" not in arguments:
        return False
    words = arguments[arguments.index("rigproof") + 1 :]
    return bool(words) and words[0] in SHOW_PAGE and not SHOW_PAGE[words[0]] & set(words)


def make_page() -> None:
    """Have the app's page built; say why when it cannot be."""
    from setup import front

    try:
        front.set_up()
    except (SetupError, OSError) as error:
        kept = " What was built last is shown." if front.INDEX.exists() else ""
        say(f"the app's page could not be built; all else works without it.{kept}\n{error}")


def main(level: str, arguments: list[str]) -> NoReturn:
    """Set up, then become the Python in .venv."""
    try:
        set_up(level)
        if shows_page(arguments):
            make_page()
    except (SetupError, OSError) as error:
        say(f"setting up failed\n{error}\n  Start again to go on from here.")
        sys.exit(EXIT_NOT_SET_UP)
    except KeyboardInterrupt:
        say("interrupted; start again to go on from here")
        sys.exit(130)
    # Compiled modules stay inside this folder, and a start without them takes three times as long.
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)
    os.execv(PYTHON, [str(PYTHON), *arguments])


if __name__ == "__main__":
    sys.path.append(str(ROOT))
    from setup import (
        bootstrap,  # the one that the other files of this folder see, and already compiled
    )

    bootstrap.main(sys.argv[1], sys.argv[2:])
