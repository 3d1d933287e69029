"""Questions with defaults: asked at the terminal, or answered beforehand by flags and files.

Every answer is kept as it was typed, so that whoever stops half-way can go on from there.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import TypeVar

from rigproof.cli.problems import UsageError, unknown

T = TypeVar("T")
NOTHING = "none"
"""What stands for an empty answer where Enter takes the default."""


@dataclass(slots=True)
class Interview:
    """One walk through the questions."""

    given: Mapping[str, str] = field(default_factory=dict)
    """Answers that are known beforehand."""
    ask: Callable[[str], str] | None = None
    """Puts a question and returns what was typed; None takes the default of whatever is not given."""
    say: Callable[[str], None] = print
    """Puts a line between the questions."""
    said: dict[str, str] = field(default_factory=dict)
    """Every answer so far, as typed, the defaults that were taken among them."""

    def answer(self, key: str, words: str, default: str, read: Callable[[str], T]) -> T:
        """Return the answer to one question. `read` raises `ValueError` with what it expected.

        Raises `UsageError` when an answer given beforehand is no good, or the default is none.
        """
        if key in self.given or self.ask is None:
            text = self.given.get(key, default)
            try:
                value = read("" if text == NOTHING else text)
            except ValueError as wrong:
                raise UsageError(
                    f"the answer '{key}' is no good", found=repr(text), expected=str(wrong)
                ) from None
            self.said[key] = text
            return value
        while True:
            shown = f" [{default}]" if default else ""
            text = self.ask(f"{words}{shown}: ").strip() or default
            try:
                value = read("" if text == NOTHING else text)
            except ValueError as wrong:
                self.say(f"  that is no good; expected: {wrong}")
                continue
            self.said[key] = text
            return value

    def require_all_used(self) -> None:
        """Raise `UsageError` when an answer was given to a question that was not asked."""
        unused = [key for key in self.given if key not in self.said]
        if unused:
            error = unknown("question", unused[0], self.said)
            raise UsageError(
                f"nothing was asked that '{unused[0]}' answers",
                known=error.known,
                nearest=error.nearest,
            )
