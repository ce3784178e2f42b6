"""The nearest known names to one that is not known."""

from __future__ import annotations

import difflib
from collections.abc import Iterable


def near(name: str, known: Iterable[str], most: int = 3) -> list[str]:
    """Give up to `most` known names that look like this one, nearest first.

    >>> near("Lemna mino", ["Lemna minor", "Lemna gibba", "Pistia stratiotes"])
    ['Lemna minor', 'Lemna gibba']
    """
    by_fold = {item.casefold(): item for item in known}
    folded = name.casefold()
    hits = difflib.get_close_matches(folded, list(by_fold), n=most, cutoff=0.6)
    if not hits:
        hits = [item for item in sorted(by_fold) if folded and folded in item][:most]
    if not hits:
        hits = difflib.get_close_matches(folded, list(by_fold), n=most, cutoff=0.3)
    return [by_fold[hit] for hit in hits]


def near_names(name: str, known: Iterable[str]) -> str:
    """Give a remedy that lists the nearest known names, or all of a short list."""
    listed = sorted(set(known))
    if not listed:
        return "none is known yet: add it first"
    hits = near(name, listed)
    if hits:
        return "nearest known: " + ", ".join(hits)
    if len(listed) <= 12:
        return "known: " + ", ".join(listed)
    return "no known name is close: check the spelling"
