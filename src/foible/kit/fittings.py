"""What can be fitted: a weapon in, its slots and the models that the kit files have for each out."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from foible.kit.folders import KitFolders
from foible.kit.names import plain
from foible.kit.schema import ItemFile, SetupFile

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

__all__ = ["fittings"]


def fittings(weapon: str, overlays: Sequence[Path] = ()) -> Mapping[str, tuple[str, ...]]:
    """Return the models by slot that a case about `weapon` can ask for. Raises UnknownNameError for the weapon."""
    return _found(plain(weapon), tuple(overlays), KitFolders(overlays).stamp())


@lru_cache(maxsize=8)
def _found(weapon: str, overlays: tuple[Path, ...], stamp: object) -> Mapping[str, tuple[str, ...]]:
    del stamp
    folders = KitFolders(overlays)
    setup = folders.read(SetupFile, "setups", weapon).data
    items = [folders.read(ItemFile, "items", name).data for name in {*setup.shared.values(), *setup.each_side.values()}]
    slots = sorted({slot.slot for item in items for slot in item.fitted})
    return {slot: tuple(folders.names(f"{slot}s")) for slot in slots}
