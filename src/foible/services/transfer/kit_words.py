"""Names that a table gives in, the kit's own names out, former ones followed; each is looked up but once."""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING

from foible.errors import InputError, UnknownNameError
from foible.kit import Book, all_weapons, fittings, load_setup, plain
from foible.services.given_names import GivenNames

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence
    from pathlib import Path

    from foible.kit import Setup

__all__ = ["KitWords"]

NO_ITEMS = frozenset({"handling", "tools"})
"""Kinds of the kit that nobody keeps a register of as such."""
BESIDE = ("mask", "glove", "test box", "test weight", "gauge", "shim", "meter")
"""What a club also keeps: clothing that no circuit knows, and instruments, which are checked."""
ALSO = {"body cord": "cord", "bodywire": "cord", "body wire": "cord", "jacket": "lamé", "lame": "lamé", "spool": "reel"}
"""What else people call a kind, by their plain names; common practice, no source."""
WEAPON = "weapon"
"""The kind of a foil, an épée or a sabre."""


class KitWords:
    """The names of the kit, with folders of one's own."""

    def __init__(self, overlays: Sequence[Path] = ()) -> None:
        self._overlays = tuple(overlays)
        self._given = GivenNames(overlays)
        self._setup: Callable[[str], Setup] = cache(lambda weapon: load_setup(weapon, overlays=self._overlays))
        self.weapons = tuple(weapon.name for weapon in all_weapons(self._overlays))
        self.kinds = self._all_kinds()
        self._kinds = Book("kind of item", dict.fromkeys(self.kinds))
        self._weapons = Book("weapon", dict.fromkeys(self.weapons))
        self.kind = cache(self._kind)
        self.weapon = cache(self._weapon)
        self.failure = cache(self._failure)
        self.repair = cache(self._repair)
        self.part = cache(self._part)

    @property
    def notices(self) -> tuple[str, ...]:
        """Former names that were read as today's, in words."""
        return tuple(map(str, self._given.notices))

    def fitted(self, weapon: str | None, given: Mapping[str, str]) -> dict[str, str]:
        """Return what is fitted, by slot. Raises UnknownNameError, and InputError where the weapon is not known."""
        if weapon is None:
            raise InputError(seen="fitted parts without a weapon", remedy="say which weapon it is for")
        slots = fittings(weapon, self._overlays)
        found = {}
        for slot, model in given.items():
            name = next((known for known in slots if plain(known) == plain(slot)), None)
            if name is None:
                raise UnknownNameError(what="place for a fitting", name=slot, known=sorted(slots), all_named=True)
            fit = next((known for known in slots[name] if plain(known) == plain(model)), None)
            if fit is None:
                raise UnknownNameError(what=name, name=model, known=slots[name], all_named=True)
            found[name] = fit
        return found

    def _all_kinds(self) -> tuple[str, ...]:
        found = (item.kind for weapon in self.weapons for item in self._setup(weapon).items.values())
        return tuple(dict.fromkeys(kind for kind in (*found, *BESIDE) if kind not in NO_ITEMS))

    def _kind(self, name: str) -> tuple[str, str | None]:
        """Return a kind and, where the name is that of a weapon, the weapon: a “foil” is a weapon."""
        weapon = next((each for each in self.weapons if plain(each) == plain(self._given.weapon(name))), None)
        if weapon:
            return WEAPON, weapon
        return self._kinds.name(ALSO.get(plain(name), name)), None

    def _weapon(self, name: str) -> str:
        return self._weapons.name(self._given.weapon(name))

    def _failure(self, weapon: str, name: str) -> str:
        """Return a failure's name without a side."""
        return self._sideless(weapon, "failure", self._given.failure(name, weapon))

    def _part(self, weapon: str, name: str) -> str:
        """Return a part's name without a side."""
        return self._sideless(weapon, "part", self._given.part(name, weapon))

    def _repair(self, weapon: str, name: str) -> str:
        return self._setup(weapon).repairs.name(name)

    def _sideless(self, weapon: str, what: str, name: str) -> str:
        setup = self._setup(weapon)
        book = setup.failures if what == "failure" else setup.parts
        for sided in (name, f"left {name}"):
            if sided in book:
                return book.name(sided).removeprefix("left ").removeprefix("right ")
        known = dict.fromkeys(each.removeprefix("left ") for each in book if not each.startswith("right "))
        raise UnknownNameError(what=what, name=name, known=known)
