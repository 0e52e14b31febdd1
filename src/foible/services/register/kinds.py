"""What a register can hold: kinds of items as data, and what the kit and the rules say of each."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from foible.errors import UnknownNameError
from foible.kit import SIDES, default_weapon, load_setup, plain, slots_of
from foible.rules import limits_of
from foible.services.given_names import GivenNames
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.kit import Failure, Setup, Slot
    from foible.records.register import RegisteredItem
    from foible.rules import Limit

__all__ = [
    "DATA",
    "ItemKind",
    "Quantity",
    "bare",
    "failures_of",
    "kind_named",
    "kinds",
    "quantities_of",
    "setup_for",
    "slots_for",
    "todays_failure",
    "words_of",
]

DATA = Path(str(files("foible.services.register") / "data"))
LINE = re.compile(r"\b[ABC]\b")
CLIP_LINE = "A"
"""The line of a wire whose other end is the clip."""


class KindTable(Strict):
    """A kind of item as the file writes it."""

    name: str
    letter: str
    words: str = ""
    weapons: tuple[str, ...] = ()
    fits: tuple[str, ...] = ()
    instrument: bool = False


class _KindsFile(Strict):
    kind: tuple[KindTable, ...]


@dataclass(frozen=True)
class ItemKind:
    """A kind of item."""

    name: str
    """What the kit calls it, where the kit has one."""
    letter: str
    words: str
    """What screens call it."""
    weapons: tuple[str, ...]
    """The weapons that it comes for; empty where one serves all."""
    fits: tuple[str, ...]
    instrument: bool
    """Whether it is a weight, gauge or meter, which is checked by the calendar."""


@dataclass(frozen=True)
class Quantity:
    """A quantity that is measured on a kind of item, with its limit in the rules."""

    limit: Limit
    lines: tuple[str, ...]
    """The lines it is measured on, one by one; empty where there is one value."""

    @property
    def name(self) -> str:
        """What the rules call it."""
        return self.limit.table.quantity

    @property
    def unit(self) -> str:
        """The unit of its value."""
        return self.limit.table.unit


@lru_cache
def kinds() -> Mapping[str, ItemKind]:
    """Return every kind of item, by name. Raises ProblemsError for slips in the file."""
    read = read_model(_KindsFile, DATA / "kinds.toml").kind
    return {each.name: ItemKind(**each.model_dump() | {"words": each.words or each.name}) for each in read}


def kind_named(name: str) -> ItemKind:
    """Return a kind by its name, or by what screens call it. Raises UnknownNameError."""
    by_name = {plain(word): kind for kind in kinds().values() for word in (kind.words, kind.name)}
    if plain(name) not in by_name:
        raise UnknownNameError(what="kind of item", name=name, known=kinds(), all_named=True)
    return by_name[plain(name)]


def words_of(item: RegisteredItem) -> str:
    """Return what an item is in words, such as “foil body cord”; of a weapon its own name."""
    known = kinds().get(item.kind)
    words = known.words if known else item.kind
    if item.kind == "weapon" and item.weapon:
        return item.weapon
    return f"{item.weapon} {words}" if item.weapon else words


def bare(name: str) -> str:
    """Return the name of a failure, a part or an item without its side."""
    side, _, rest = name.partition(" ")
    return rest if side in SIDES else name


def setup_for(weapon: str | None, fitted: Mapping[str, str], overlays: Sequence[Path] = ()) -> Setup:
    """Return the set-up that an item with these fittings belongs to. Raises ProblemsError where they do not fit."""
    return load_setup(weapon or default_weapon().name, fitted={SIDES[0]: dict(fitted)} if fitted else {}, overlays=overlays)


def slots_for(kind: ItemKind, weapon: str | None, overlays: Sequence[Path] = ()) -> tuple[Slot, ...]:
    """Return what can be fitted to an item in several ways."""
    return tuple(slot for slot in slots_of(weapon, overlays) if slot.name in kind.fits) if weapon and kind.fits else ()


def failures_of(kind: str, weapon: str | None, fitted: Mapping[str, str], overlays: Sequence[Path] = ()) -> dict[str, Failure]:
    """Return the failures that an item can have, by their names without side; none where the kit does not have its kind."""
    setup = setup_for(weapon, fitted, overlays)
    mine = {name for name in (f"{SIDES[0]} {kind}", kind) if name in setup.items}
    return {bare(failure.id): failure for failure in setup.failures.values() if failure.item in mine}


def todays_failure(name: str, weapon: str | None, overlays: Sequence[Path] = ()) -> str:
    """Return what a failure that was noted without side is called today; one that no kit knows stays as it is."""
    weapon = weapon or default_weapon().name
    names = GivenNames(overlays)
    return bare(names.failure(f"{SIDES[0]} {name}", weapon))


@lru_cache(maxsize=64)
def quantities_of(kind: str, weapon: str | None) -> tuple[Quantity, ...]:
    """Return what is measured on a kind of item, as the rules have it."""
    found = []
    for limit in limits_of(weapon or default_weapon().name):
        table = limit.table
        firsts = [pair[0] for pair in table.places] or [f"weapon {table.gauge}"]
        if _kind_of(firsts[0]) == kind:
            lines = [match[0] for first in firsts if (match := LINE.search(first))]
            whole = lines if table.quantity.startswith("one wire") else []
            found.append(Quantity(limit, tuple(whole)))
    return tuple(found)


def _kind_of(place: str) -> str:
    """Return the kind that a place of the rules belongs to: the longest whose name begins it."""
    return max((name for name in kinds() if place == name or place.startswith(f"{name} ")), key=len, default="")
