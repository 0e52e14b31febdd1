"""What can be fitted: a weapon in, its slots and the models that the kit files have for each out."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.kit.folders import KitFolders
from foible.kit.names import plain
from foible.kit.schema import FittingFile, ItemFile, SetupFile

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

__all__ = ["Slot", "fittings", "slots_of"]


@dataclass(frozen=True, slots=True)
class Slot:
    """A place of a weapon or cord that can be fitted in several ways."""

    name: str
    """What a case file calls it, such as “socket”."""
    usual: str
    """The model that is fitted where nobody says otherwise."""
    models: tuple[tuple[str, str], ...]
    """(model, what screens call it) of all that are offered, the usual one first."""


def fittings(weapon: str, overlays: Sequence[Path] = ()) -> Mapping[str, tuple[str, ...]]:
    """Return the models by slot that a case about `weapon` can ask for. Raises UnknownNameError for the weapon."""
    return _found(plain(weapon), tuple(overlays), KitFolders(overlays).stamp())


def slots_of(weapon: str, overlays: Sequence[Path] = ()) -> tuple[Slot, ...]:
    """Return the slots of a weapon and its cord for which there is a choice. Raises UnknownNameError for the weapon."""
    return _slots(plain(weapon), tuple(overlays), KitFolders(overlays).stamp())


@lru_cache(maxsize=8)
def _found(weapon: str, overlays: tuple[Path, ...], stamp: object) -> Mapping[str, tuple[str, ...]]:
    del stamp
    folders = KitFolders(overlays)
    return {slot: tuple(folders.names(f"{slot}s")) for slot in sorted(_usual(folders, weapon))}


@lru_cache(maxsize=8)
def _slots(weapon: str, overlays: tuple[Path, ...], stamp: object) -> tuple[Slot, ...]:
    del stamp
    folders, found = KitFolders(overlays), []
    for slot, usual in sorted(_usual(folders, weapon).items()):
        group = f"{slot}s"
        read = {name: folders.read(FittingFile, group, name).data for name in folders.names(group)}
        heads = {name: file.socket or file.core for name, file in read.items()}
        offered = {name: head.name for name, head in heads.items() if head and weapon in map(plain, head.weapons)}
        if len(offered) > 1 and usual in offered:
            found.append(Slot(slot, usual, tuple(sorted(offered.items(), key=lambda each: (each[0] != usual, each[1])))))
    return tuple(found)


def _usual(folders: KitFolders, weapon: str) -> dict[str, str]:
    """Return the slots of all items of a weapon, each with its usual model."""
    setup = folders.read(SetupFile, "setups", weapon).data
    items = [
        folders.read(ItemFile, "items", name).data for name in dict.fromkeys((*setup.shared.values(), *setup.each_side.values()))
    ]
    return {slot.slot: slot.model for item in items for slot in item.fitted}
