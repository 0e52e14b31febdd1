"""Items as an armourer names them in; items for the records out, in the kit's own names and with every figure checked."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from foible.errors import InputError, UnknownNameError
from foible.kit import Book
from foible.records.register import ItemState, add_item, change_item
from foible.services.given_names import GivenNames
from foible.services.register.kinds import kind_named, slots_for

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import date
    from pathlib import Path

    from foible.records.register import NewItem, RegisteredItem, Turn
    from foible.services.register.kinds import ItemKind

__all__ = ["MOST_MONEY", "check_money", "checked_item", "register_item", "revise_item", "state_change"]

MOST_MONEY = 100_000_000
"""Hundredths: a million, so that a slip of the finger is noticed."""


def checked_item(new: NewItem, overlays: Sequence[Path] = ()) -> NewItem:
    """Return an item in today's names of the kit, with the letter of its code.

    Raises UnknownNameError for a kind, weapon, slot or model that does not exist, and InputError for what cannot be.
    """
    kind = kind_named(new.kind)
    weapon = _weapon(kind, new.weapon, overlays)
    fitted = _fitted(kind, weapon, new.fitted, overlays)
    check_money(new.price)
    return replace(new, kind=kind.name, letter=kind.letter, weapon=weapon, fitted=fitted, name=new.name.strip())


def register_item(turn: Turn, new: NewItem, overlays: Sequence[Path] = ()) -> RegisteredItem:
    """Register an item once it is checked. Raises InputError."""
    return add_item(turn, checked_item(new, overlays))


def revise_item(
    turn: Turn, seen: RegisteredItem, wanted: Mapping[str, Any], *, version: int | None, overlays: Sequence[Path] = ()
) -> RegisteredItem:
    """Change fields of an item; `version` is the one that whoever changes it has seen. Raises InputError and ClashError."""
    given = dict(wanted)
    if "fitted" in given:
        given["fitted"] = _fitted(kind_named(seen.kind), seen.weapon, given["fitted"], overlays)
    check_money(given.get("price"))
    return change_item(turn, seen.code, given, version=version)


def state_change(name: str, today: date) -> dict[str, Any]:
    """Return what changes of an item that is put into a state by hand. Raises UnknownNameError."""
    known = {each.value: each for each in ItemState}
    if name not in known:
        raise UnknownNameError(what="state", name=name, known=known, all_named=True)
    state = known[name]
    return {"state": state, "retired": today} if state is ItemState.RETIRED else {"state": state}


def _weapon(kind: ItemKind, given: str | None, overlays: Sequence[Path]) -> str | None:
    if not kind.weapons:
        return None
    if not given and len(kind.weapons) == 1:
        return kind.weapons[0]
    known = Book("weapon", {name: name for name in kind.weapons})
    if not given:
        raise InputError(seen=f"the {kind.words} has no weapon", remedy=f"say which it is for: {', '.join(kind.weapons)}")
    return known.name(GivenNames(overlays).weapon(given))


def _fitted(kind: ItemKind, weapon: str | None, given: Mapping[str, str], overlays: Sequence[Path]) -> dict[str, str]:
    slots = {slot.name: slot for slot in slots_for(kind, weapon, overlays)}
    for name in given:
        if name not in slots:
            raise UnknownNameError(what=f"slot of the {kind.words}", name=name, known=slots, all_named=True)
    chosen = {}
    for name, model in given.items():
        if model and (fits := Book(f"{name} for it", dict(slots[name].models)).name(model)) != slots[name].usual:
            chosen[name] = fits
    return chosen


def check_money(price: int | None) -> None:
    """Refuse a price that cannot be [hundredths]. Raises InputError."""
    if price is not None and not 0 <= price <= MOST_MONEY:
        raise InputError(seen=f"a price of {price / 100:.2f}", remedy="give one from 0 to a million")
