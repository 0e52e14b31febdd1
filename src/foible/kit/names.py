"""Names as people write them in, the kit's own spelling out: capitals, accents and spaces do not matter."""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, Generic, TypeVar

from foible.errors import UnknownNameError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

__all__ = ["HARD_HIT", "SIDES", "WHOLE_SIDE", "Book", "job", "job_parts", "other", "plain"]

SIDES = ("left", "right")
WHOLE_SIDE = "fence"
"""The movement that stirs everything of a side, as in a bout: “fence left”."""
HARD_HIT = "bury"
"""The movement that is the hit itself, so hard and deep that it drives the point home: “bury left weapon point”."""

Value = TypeVar("Value")


def plain(text: str) -> str:
    """Return `text` in lower case, without accents, single-spaced."""
    stripped = "".join(c for c in unicodedata.normalize("NFKD", text) if not unicodedata.combining(c))
    return re.sub(r"\s+", " ", stripped.replace("’", "'")).strip().casefold()


def other(side: str) -> str:
    """Return the opposite side."""
    return SIDES[1 - SIDES.index(side)]


def job(item: str, repair: str) -> str:
    """Return the name of a repair made on an item, “item: repair”."""
    return f"{item}: {repair}"


def job_parts(name: str) -> tuple[str, str]:
    """Return the item and the repair that “item: repair” names; the item alone, and "", where no repair is named."""
    item, _, repair = name.partition(": ")
    return item, repair


class Book(Generic[Value]):
    """Things by name, looked up as people write names."""

    def __init__(self, what: str, entries: Mapping[str, Value]) -> None:
        self.what = what
        self._entries = dict(entries)
        self._names = {plain(name): name for name in entries}

    def __getitem__(self, name: str) -> Value:
        exact = self._entries.get(name)
        return self._entries[self.name(name)] if exact is None else exact

    def __contains__(self, name: object) -> bool:
        return isinstance(name, str) and (name in self._entries or plain(name) in self._names)

    def __iter__(self) -> Iterator[str]:
        return iter(self._entries)

    def __len__(self) -> int:
        return len(self._entries)

    def name(self, name: str) -> str:
        """Return the name as the kit spells it, or raise UnknownNameError."""
        found = self._names.get(plain(name))
        if found is None:
            raise UnknownNameError(what=self.what, name=name, known=self._entries)
        return found

    def values(self) -> list[Value]:
        """Return the things, in order."""
        return list(self._entries.values())
