"""Which sheets are most like what a performer has in mind, told by the words they use for it."""

from __future__ import annotations

import re
from collections.abc import Mapping

from rigproof.model.sheet import Sheet

NAME_WORTH, TITLE_WORTH, KIND_WORTH, SUMMARY_WORTH = 4.0, 3.0, 2.0, 1.0
"""What a word counts where it is found. Our choice."""
LEAST_LETTERS = 3
"""Shorter words tell nothing, except where they are the whole word."""


def words_of(text: str) -> list[str]:
    """Return the words of a text in lower case.

    >>> words_of("A stereo-echo, two inputs")
    ['a', 'stereo', 'echo', 'two', 'inputs']
    """
    return re.findall(r"[a-z0-9]+", text.lower())


def matches(asked: str, word: str) -> bool:
    """Return whether two words are alike: the same, or one begins with the other.

    >>> matches("filters", "filter"), matches("a", "audio")
    (True, False)
    """
    if asked == word:
        return True
    if min(len(asked), len(word)) < LEAST_LETTERS:
        return False
    return asked.startswith(word) or word.startswith(asked)


def likeness(purpose: str, sheet: Sheet) -> float:
    """Return how much a sheet has of the words of a purpose; 0 for nothing."""
    fields = (
        (NAME_WORTH, words_of(sheet.id)),
        (TITLE_WORTH, words_of(sheet.title)),
        (KIND_WORTH, [w for s in sheet.sections.values() for w in words_of(s.kind)]),
        (SUMMARY_WORTH, words_of(sheet.summary)),
    )
    return sum(
        worth
        for asked in dict.fromkeys(words_of(purpose))
        for worth, words in fields
        if any(matches(asked, word) for word in words)
    )


def nearest_sheets(purpose: str, sheets: Mapping[str, Sheet], *, most: int = 6) -> list[str]:
    """Return the names of the sheets most like a purpose, the best first; of equals, the smaller comes first."""
    ranked = [(likeness(purpose, sheet), sheet) for sheet in sheets.values()]
    found = [(score, sheet) for score, sheet in ranked if score > 0.0]
    found.sort(key=lambda pair: (-pair[0], len(pair[1].jacks), pair[1].id))
    return [sheet.id for _, sheet in found[:most]]
