"""`python -m rigproof` is the rigproof command."""

import sys

if __name__ == "__main__":
    try:
        from rigproof.cli import main

        main()
    except KeyboardInterrupt:  # while it is still starting, or already ending
        sys.exit(130)
