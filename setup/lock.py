"""Write the lock files in locks/ anew from pyproject.toml: `./check lock`.

Versions and hashes are pinned, addresses are not: whoever installs brings their own package index. What this
machine's own configuration says (mirrors, caps, local wheels) is shut out, so that the locks hold everywhere.
"""

import os
import re
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parent.parent
LOCKS = ROOT / "locks"
UV = Path(sys.prefix) / "bin" / "uv"
FLAGS = (
    "--universal",
    "--python-version=3.11",
    "--fork-strategy=fewest",  # one version of each package on every Python, so numbers agree
    "--generate-hashes",
    "--no-emit-index-url",
    "--no-emit-find-links",
    "--no-header",
    "--no-annotate",
    "--no-config",
    "--no-build",
    "--system-certs",
    "--quiet",
)
LOCAL_SETTINGS = re.compile(r"^(UV|PIP)_(?!CACHE_DIR$|HTTP_)")


def compile_lock(name: str, sources: list[str], *options: str, upgrade: bool) -> None:
    """Resolve `sources` into locks/NAME.txt; keep the pins it has unless `upgrade`."""
    env = {key: value for key, value in os.environ.items() if not LOCAL_SETTINGS.match(key)}
    command = [str(UV), "pip", "compile", *FLAGS, *options, *sources, "-o", f"locks/{name}.txt"]
    subprocess.run(
        command + ["--upgrade"] * upgrade, cwd=ROOT, env=env, check=True, stdout=subprocess.DEVNULL
    )
    pins = (LOCKS / f"{name}.txt").read_text().count("==")
    print(f"locks/{name}.txt: {pins} packages")


def main(upgrade: bool) -> None:
    """Lock uv itself, a Node.js for those who have none, what rigproof runs on, and what its tests need."""
    LOCKS.mkdir(exist_ok=True)
    compile_lock("setup", ["setup/setup.in"], upgrade=upgrade)
    compile_lock("node", ["setup/node.in"], upgrade=upgrade)
    compile_lock("runtime", ["pyproject.toml"], upgrade=upgrade)
    compile_lock(
        "dev",
        ["pyproject.toml"],
        "--group=pyproject.toml:dev",
        "--constraints=locks/runtime.txt",
        upgrade=upgrade,
    )


if __name__ == "__main__":
    main(upgrade="--upgrade" in sys.argv[1:])
