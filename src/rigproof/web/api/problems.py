"""The one shape in which the server says what is wrong: a name, a sentence, and what the performer can mend."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rigproof.errors import RigError, Where


class Refusal(Exception):
    """The server will not do what it was asked. `status` is the HTTP status, `name` a stable kebab-case name."""

    def __init__(
        self,
        status: int,
        name: str,
        message: str,
        *,
        errors: Sequence[RigError] = (),
        more: dict[str, Any] | None = None,
    ) -> None:
        self.status = status
        self.name = name
        self.message = message
        self.errors = tuple(errors)
        self.more = more or {}
        super().__init__(message)


def refused_edit(errors: Sequence[RigError]) -> Refusal:
    """Return the refusal of a change that the project cannot take."""
    return Refusal(422, "cannot-be-done", "The project cannot take this.", errors=errors)


def problem_data(refusal: Refusal) -> dict[str, Any]:
    """Return a refusal as it is answered."""
    return {
        "error": {
            "name": refusal.name,
            "message": refusal.message,
            "errors": [error_data(error) for error in refusal.errors],
            **refusal.more,
        }
    }


def where_data(where: Where) -> dict[str, Any] | None:
    """Return a place in a file, None for nowhere."""
    if not where.file:
        return None
    return {"file": where.file, "line": where.line, "key": where.key or None}


def error_data(error: RigError) -> dict[str, Any]:
    """Return one thing that the performer can mend."""
    return {
        "sort": type(error).__name__,
        "where": where_data(error.where),
        "problem": error.problem,
        "found": error.found,
        "expected": error.expected,
        "known": list(error.known),
        "nearest": error.nearest,
    }
