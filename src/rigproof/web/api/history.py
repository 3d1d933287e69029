"""Undo and redo: every change of the project's texts as a step that can be taken back, the oldest forgotten first."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

STEPS_LIMIT = 300
BYTES_LIMIT = 64_000_000
"""So much text is kept at most. A patch takes about 20,000 bytes, and a step keeps it twice."""


@dataclass(frozen=True, slots=True)
class Step:
    """One change: what every file that it touched held before and after; None where there was no file."""

    words: str
    by: str
    before: Mapping[str, bytes | None]
    after: Mapping[str, bytes | None]

    @property
    def size_bytes(self) -> int:
        """How much text it keeps."""
        texts = (*self.before.values(), *self.after.values())
        return sum(len(text) for text in texts if text is not None)


@dataclass(slots=True)
class History:
    """The steps that were done and can be undone, and those that were undone and can be done again."""

    done: list[Step] = field(default_factory=list)
    undone: list[Step] = field(default_factory=list)

    def add(self, step: Step) -> None:
        """Note a step; what was undone before it cannot be done again."""
        self.done.append(step)
        self.undone.clear()
        size_bytes = sum(s.size_bytes for s in self.done)
        while len(self.done) > STEPS_LIMIT or (size_bytes > BYTES_LIMIT and len(self.done) > 1):
            size_bytes -= self.done.pop(0).size_bytes

    def went_back(self) -> None:
        """Note that the last step was undone."""
        self.undone.append(self.done.pop())

    def went_forth(self) -> None:
        """Note that the step undone last was done again."""
        self.done.append(self.undone.pop())
