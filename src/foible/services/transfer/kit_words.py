"""Names that a table gives in, the kit's own names out, former ones followed; each is looked up but once."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, TypeVar

from foible.errors import UnknownNameError
from foible.kit import Book, all_weapons, load_setup, plain
from foible.records.register import NewItem
from foible.services.given_names import GivenNames
from foible.services.register.items import checked_item
from foible.services.register.kinds import bare, failures_of, kind_named, quantities_of, setup_for
from foible.services.register.making import job_kinds

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from foible.records.whole_tables import New

__all__ = ["ItemRef", "KitWords"]

Found = TypeVar("Found")
ALSO = {"bodywire": "cord", "body wire": "cord", "jacket": "lamé", "electric jacket": "lamé", "spool": "reel"}
"""What else people call a kind, by their plain names; common practice, no source."""


@dataclass(frozen=True)
class ItemRef:
    """An item that rows refer to: what it is, as the kit knows it."""

    id: int | New
    kind: str
    weapon: str | None
    fitted: Mapping[str, str] = field(default_factory=dict)


class KitWords:
    """The names of the kit, with folders of one's own. All methods raise InputError, most of them UnknownNameError."""

    def __init__(self, overlays: Sequence[Path] = ()) -> None:
        self._overlays = tuple(overlays)
        self._given = GivenNames(overlays)
        self._known: dict[tuple[Any, ...], Any] = {}
        self.weapons = tuple(weapon.name for weapon in all_weapons(self._overlays))

    @property
    def notices(self) -> tuple[str, ...]:
        """Former names that were read as today's, in words."""
        return tuple(map(str, self._given.notices))

    def kind(self, name: str) -> tuple[str, str | None]:
        """Return a kind and, where the name is that of a weapon, the weapon: a “foil” is a weapon."""

        def look() -> tuple[str, str | None]:
            weapon = next((each for each in self.weapons if plain(each) == plain(self._given.weapon(name))), None)
            return ("weapon", weapon) if weapon else (kind_named(ALSO.get(plain(name), name)).name, None)

        return self._once(look, "kind", name)

    def item(self, kind: str, weapon: str | None, fitted: Mapping[str, str]) -> NewItem:
        """Return an item with its weapon and what is fitted in the kit's own names, and the letter of its code."""
        new = NewItem(kind=kind, letter="", weapon=weapon, fitted=dict(fitted))
        return self._once(lambda: checked_item(new, self._overlays), "item", kind, weapon, *sorted(fitted.items()))

    def failure(self, item: ItemRef, name: str) -> str:
        """Return a failure of an item, without a side."""
        fitted = sorted(item.fitted.items())
        book = self._once(
            lambda: Book("failure of this item", failures_of(item.kind, item.weapon, dict(fitted), self._overlays)),
            "failures", item.kind, item.weapon, *fitted,
        )  # fmt: skip
        wanted = bare(self._given.failure(f"left {name}", item.weapon)) if item.weapon and bare(name) not in book else bare(name)
        return book.name(wanted)

    def repair(self, item: ItemRef, name: str) -> str:
        """Return a repair as the kit calls it."""
        return setup_for(item.weapon, item.fitted, self._overlays).repairs.name(name)

    def job_kind(self, item: ItemRef, name: str) -> str:
        """Return a kind of job that there is for an item."""
        return Book("kind of job", job_kinds(item.kind, item.weapon)).name(name)

    def quantity(self, item: ItemRef, name: str) -> tuple[str, str]:
        """Return a quantity that is measured on an item, as the rules call it, and its unit."""
        known = {each.name: each for each in quantities_of(item.kind, item.weapon)}
        found = Book("quantity of this item", known)[name]
        return found.name, found.unit

    def fit(self, name: str) -> str:
        """Return a part of the kit, such as “foil/weapon point face”."""
        return self._once(lambda: self._fit(name), "fit", name)

    def _fit(self, name: str) -> str:
        word, _, part = name.partition("/")
        weapon = Book("weapon", dict.fromkeys(self.weapons)).name(self._given.weapon(word.strip()))
        parts = load_setup(weapon, overlays=self._overlays).parts
        today = self._given.part(part.strip(), weapon)
        for sided in (today, f"left {today}"):
            if sided in parts:
                return f"{weapon}/{bare(parts.name(sided))}"
        raise UnknownNameError(what="part", name=part, known=dict.fromkeys(map(bare, parts)))

    def _once(self, look: Callable[[], Found], *key: object) -> Found:
        if key not in self._known:
            self._known[key] = look()
        found: Found = self._known[key]
        return found
