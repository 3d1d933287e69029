"""`python -m rigproof` is the rigproof command."""

from rigproof.cli import main

if __name__ == "__main__":
    main()
