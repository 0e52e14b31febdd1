"""Texts in; out, which of a newcomer's words stand in them, with what each means.

A longer word hides the shorter one in it: where “clip bite” stands, that is not “clip” as well.
"""

from __future__ import annotations

import re
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from foible.tomlfile import Strict, Words, read_model

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["Word", "words_known", "words_met"]

FILE = Path(str(files("foible.practice") / "data" / "words.toml"))


class Word(Strict):
    """A word that somebody new does not know."""

    name: str
    forms: Words = ()
    """Other ways in which it is written; its name counts too."""
    meaning: str
    """What it means, without a full stop."""

    @property
    def slug(self) -> str:
        """What an address or an id calls it."""
        return re.sub(r"[^a-z]+", "-", self.name.lower().replace("é", "e")).strip("-")


class _File(Strict):
    word: tuple[Word, ...]


@lru_cache(maxsize=1)
def words_known() -> tuple[Word, ...]:
    """Return every word, in the order of the file."""
    return read_model(_File, FILE).word


def words_met(texts: Iterable[str]) -> tuple[Word, ...]:
    """Return the words that stand in texts, in the order in which they come first."""
    pattern, by_form = _forms()
    found = (by_form[match.group().casefold()] for text in texts for match in pattern.finditer(text))
    return tuple({word.name: word for word in found}.values())


@lru_cache(maxsize=1)
def _forms() -> tuple[re.Pattern[str], dict[str, Word]]:
    """Return a pattern of every form, the longest first, and whose form each is."""
    by_form = {form.casefold(): word for word in words_known() for form in (word.name, *word.forms)}
    longest = sorted(by_form, key=len, reverse=True)
    return re.compile(rf"(?<!\w)(?:{'|'.join(map(re.escape, longest))})(?!\w)", re.IGNORECASE), by_form
