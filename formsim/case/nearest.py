"""The known word that is nearest to one nobody knows: by whole words first, then by letters."""

from __future__ import annotations

from collections.abc import Iterable
from difflib import SequenceMatcher

CUTOFF = 0.6
"""Least likeness of two words by their letters."""

MOST = 3
"""Words asked for at once, where all of what was given stands in each of them."""


def nearest(given: str, known: Iterable[str], cutoff: float = CUTOFF) -> list[str]:
    """The nearest word, or all that hold every part of what was given; empty where none is near.

    Parts are what underscores divide: ``max_thinning`` may be ``max_thinning_percent`` as well as
    ``max_thinning_strain``.
    """
    text, parts = given.lower(), set(given.lower().split("_"))
    ranks = {}
    for word in known:
        like = SequenceMatcher(None, word, text).ratio()
        if like >= cutoff or parts <= set(word.split("_")):
            ranks[word] = len(parts & set(word.split("_"))), like
    whole = [word for word in ranks if parts <= set(word.split("_"))]
    if len(whole) > 1:
        return whole[:MOST]
    return sorted(ranks, key=lambda word: ranks[word], reverse=True)[:1]


def question(words: Iterable[str]) -> str:
    """Question whether one of the words was meant; empty for none."""
    told = " or ".join(f'"{word}"' for word in words)
    return f"did you mean {told}?" if told else ""
