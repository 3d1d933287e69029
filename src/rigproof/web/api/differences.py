"""What a change would do to the texts, line by line, to be looked at before it is made."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from difflib import SequenceMatcher
from typing import Any

from rigproof.web.api.session import Session

AROUND = 3
"""So many lines are shown on both sides of a change."""


def preview_view(session: Session, finding: str, at: str) -> dict[str, Any]:
    """Return what a finding's fix would do to each file.

    Raises `Refusal` when there is no such finding now, it has no fix, or the files cannot take it.
    """
    revision, fix = session.revision, session.fix(finding, at)
    return {
        "revision": revision,
        "finding": finding,
        "at": at,
        "words": fix.words,
        "safe": fix.is_safe,
        "files": files_view(session.changed_by(fix.edits)),
    }


def files_view(changed: Mapping[str, tuple[str, str]]) -> list[dict[str, Any]]:
    """Return the differences of every file."""
    return [
        {"file": name, "hunks": list(hunks(old, new))}
        for name, (old, new) in sorted(changed.items())
    ]


def hunks(old: str, new: str) -> Iterator[dict[str, Any]]:
    r"""Yield the places where two texts differ, each with some lines around it; lines count from 1.

    >>> [h["lines"] for h in hunks("a\nb\n", "a\nc\n")]
    [[[' ', 'a'], ['-', 'b'], ['+', 'c']]]
    """
    before, after = old.splitlines(), new.splitlines()
    for group in SequenceMatcher(None, before, after, autojunk=False).get_grouped_opcodes(AROUND):
        lines: list[list[str]] = []
        for tag, i, j, k, m in group:
            if tag == "equal":
                lines += [[" ", text] for text in before[i:j]]
            else:
                lines += [["-", text] for text in before[i:j]]
                lines += [["+", text] for text in after[k:m]]
        yield {"old": group[0][1] + 1, "new": group[0][3] + 1, "lines": lines}
