"""Where compiled kernels are kept: the one place of the engine that asks the machine for a folder.

The folder's name holds a hash of every source that a compiled kernel can depend on, and of the compiler's version, so
that a changed kernel or helper can never meet a stale compilation.
"""

from __future__ import annotations

import hashlib
import os
import sys
import tempfile
from importlib import metadata
from pathlib import Path


def source_hash() -> str:
    """Return a short hash of the sources of kinds and engine and of the compiler's version."""
    versions = f"{sys.version} {metadata.version('numba')} {metadata.version('llvmlite')}"
    digest = hashlib.sha256(versions.encode())
    package = Path(__file__).parent.parent
    for path in sorted([*(package / "kinds").glob("*.py"), *(package / "engine").glob("*.py")]):
        digest.update(path.name.encode())
        digest.update(path.read_bytes())
    return digest.hexdigest()[:16]


def cache_folder() -> Path:
    """Return the folder for compiled kernels: `RIGPROOF_CACHE`, else the user's cache folder.

    Where the home cannot be written to it is a folder in the temporary place that is ours alone: never one in which
    somebody else could have left code for us to run.
    """
    chosen = os.environ.get("RIGPROOF_CACHE")
    if chosen:
        return Path(chosen)
    try:
        base = Path(os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache") / "rigproof"
        base.mkdir(parents=True, exist_ok=True)
        if os.access(base, os.W_OK):
            return base
    except (OSError, RuntimeError):
        pass  # no home, or one that cannot be written to
    owner = os.getuid() if hasattr(os, "getuid") else 0
    spare = Path(tempfile.gettempdir()) / f"rigproof-cache-{owner}"
    try:
        spare.mkdir(mode=0o700, parents=True, exist_ok=True)
        status = spare.lstat()
        if (
            spare.is_dir()
            and not spare.is_symlink()
            and status.st_uid == owner
            and not status.st_mode & 0o022
        ):
            return spare
    except OSError:
        pass
    return Path(tempfile.mkdtemp(prefix="rigproof-cache-"))


def use_kernel_cache() -> str:
    """Point the compiler at our folder and return its name. Must run before the compiler is imported."""
    folder = str(cache_folder() / f"kernels-{source_hash()}")
    os.environ["NUMBA_CACHE_DIR"] = folder
    return folder
