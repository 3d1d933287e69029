"""The rigproof command."""

import sys

from rigproof import __version__


def main() -> None:
    """Tell the version; the commands join as they are built."""
    print(f"rigproof {__version__}")
    sys.exit(0 if sys.argv[1:] == ["--version"] else 2)
