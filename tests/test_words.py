"""What is committed speaks of rigproof alone: no address that packages come from, no path of one machine."""

import re
import subprocess
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parent.parent

# Built from parts, so that this file passes its own test.
HOSTS = [
    ".".join(parts)
    for parts in (
        ("pypi", "org"),
        ("pythonhosted", "org"),
        ("npmjs", "org"),
        ("npmjs", "com"),
        ("yarnpkg", "com"),
        ("jsdelivr", "net"),
        ("unpkg", "com"),
        ("deb.debian", "org"),
        ("proxy.golang", "org"),
        ("anaconda", "org"),
        ("googleapis", "com"),
        ("cloudflare", "com"),
    )
]
FOLDERS = [f"/{name}/" for name in ("tmp", "work", "opt", "home", "Users", "root")]
HERE = [f"{ROOT}/", f"{Path.home()}/"]
DENIED = re.compile(
    "|".join(
        [rf"{re.escape(host)}\b" for host in HOSTS]
        # A folder at the top of a disk: not the middle of a longer path, not an address.
        + [rf"(?<![\w.~*)}}\]>-]){re.escape(folder)}" for folder in FOLDERS + HERE]
        + ["file" + "://"]
    )
)


def tracked_files() -> list[Path]:
    """What git keeps or would keep; none outside a checkout."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=ROOT,
        capture_output=True,
        check=False,
    )
    names = [name.decode() for name in listed.stdout.split(b"\0") if name]
    return [ROOT / name for name in names if (ROOT / name).is_file()]


def denied_words(text: str) -> list[str]:
    """Each denied word with its line."""
    return [
        f"{number}: {found.group()}"
        for number, line in enumerate(text.splitlines(), 1)
        for found in DENIED.finditer(line)
    ]


def test_no_tracked_file_holds_a_denied_word() -> None:
    paths = tracked_files()
    if not paths:
        pytest.skip("not a git checkout")
    found = []
    for path in paths:
        name = path.relative_to(ROOT)
        found += [f"{name} is named so" for _ in denied_words(f"/{name}")]
        text = path.read_bytes().decode("utf-8", errors="ignore")
        found += [f"{name}:{word}" for word in denied_words(text)]
    assert not found, "\n" + "\n".join(found[:40])


@pytest.mark.parametrize(
    "text",
    [
        f"see {HOSTS[0]}",
        f"https://files.{HOSTS[1]}/packages",
        f'"{FOLDERS[0]}render.wav"',
        f"cd {HERE[0]}src",
    ],
)
def test_a_denied_word_is_seen(text: str) -> None:
    assert denied_words(text)


@pytest.mark.parametrize(
    "text", ["src/rigproof/tmp/", "https://example.org/home/", "a/work/b", "$x/opt/"]
)
def test_ordinary_text_passes(text: str) -> None:
    assert not denied_words(text)
