"""The rigproof command: parse, call one function, print."""

from rigproof.cli.app import main

__all__ = ["main"]
