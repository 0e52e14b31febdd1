"""A weapon, and what is fitted, in; its strip set-up out, put together from the kit files, or every slip in them at once."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

from foible.circuit import Branch
from foible.errors import ProblemsError, UnknownNameError
from foible.kit.braces import filled
from foible.kit.draft import Draft
from foible.kit.failures import check_added, read_failures
from foible.kit.folders import KitFolders, Read
from foible.kit.items import item_of, read_item, read_movements
from foible.kit.model import Connection
from foible.kit.names import SIDES
from foible.kit.repairs import read_repairs
from foible.kit.schema import FailuresFile, ItemFile, SetupFile, SeveritiesFile, SourcesFile
from foible.kit.unused import unused
from foible.kit.weapons import weapon_at

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence
    from pathlib import Path

    from foible.kit.draft import Where
    from foible.kit.items import PartEntry
    from foible.kit.model import Setup
    from foible.kit.schema import ConnectionTable
    from foible.kit.weapon import Weapon

    Fitted = Mapping[str, Mapping[str, str]]
    """Model by side and slot."""

__all__ = ["load_setup"]

PLUG_OHMS = 0.01
"""Contact resistance of a sound pin in a sound socket, beyond that of the two parts [Ω]; judgement, no source."""

SETUPS = 16
"""Set-ups that stay in memory."""


def load_setup(weapon: str, *, fitted: Fitted | None = None, overlays: Sequence[Path] = ()) -> Setup:
    """Return the set-up of `weapon`; UnknownNameError where there is none, or no such slot or model.

    `fitted` names other models for slots by side, such as ``{"left": {"socket": "bayonet"}}``; `overlays` are folders with
    further kit files. Raises ProblemsError with all problems of the files.
    """
    for side in fitted or {}:
        if side not in SIDES:
            raise UnknownNameError(what="side", name=side, known=SIDES)
    chosen = tuple((side, tuple(slots.items())) for side, slots in (fitted or {}).items() if slots)
    return _loaded(weapon, chosen, tuple(overlays), KitFolders(overlays).stamp())


@lru_cache(maxsize=SETUPS)
def _loaded(
    weapon: str, fitted: tuple[tuple[str, tuple[tuple[str, str], ...]], ...], overlays: tuple[Path, ...], stamp: object
) -> Setup:
    """Return a set-up, rebuilt only where `stamp` shows that the overlay files have changed."""
    del stamp
    folders = KitFolders(overlays)
    if idle := list(unused(folders.folders)):
        raise ProblemsError(idle)
    return _assembled(weapon_at(weapon, overlays), folders, {side: dict(slots) for side, slots in fitted})


def _assembled(kind: Weapon, folders: KitFolders, fitted: Fitted) -> Setup:
    """Return a set-up: first all parts, then what may name any of them: connections, movements and failures."""
    origin = folders.read(SetupFile, "setups", kind.word)
    ladders = folders.read(SeveritiesFile, "", "severities").data.ladder
    citations = _citations(folders)
    repairs, slips = read_repairs(folders, citations)
    added = folders.every(FailuresFile, "failures")
    draft = Draft(kind, origin.data.setup.profile, citations, repairs, slips)
    parts = _read_items(draft, folders, origin.data, fitted)
    _read_connections(draft, origin)
    check_added(draft, added)
    if origin.data.setup.weapon != kind.name:
        seen = f"this is the set-up of “{kind.name}”, not of “{origin.data.setup.weapon}”"
        draft.complain(origin, ("setup", "weapon"), seen, "correct the name, or move the set-up to its own file")
    for part in parts:
        read_movements(draft, part)
    for part in parts:
        read_failures(draft, part, added, ladders)
    return draft.finished(folders.folders[1:])


def _citations(folders: KitFolders) -> dict[str, str]:
    """Return the citations of every folder together, so that an overlay adds its own without copying the rest."""
    merged: dict[str, str] = {}
    for read in folders.every(SourcesFile, "sources"):
        merged |= read.data.sources
    return merged


def _read_items(draft: Draft, folders: KitFolders, file: SetupFile, fitted: Fitted) -> list[PartEntry]:
    """Read the items that both sides share and those of each side, and return their parts.

    Raises UnknownNameError for a slot that no item has.
    """
    parts: list[PartEntry] = []
    slots: set[str] = set()
    for side, files in ((None, file.shared), *((side, file.each_side) for side in SIDES)):
        for kind, name in files.items():
            read = folders.read(ItemFile, "items", name)
            parts += read_item(draft, folders, read, item_of(read, kind, side), fitted.get(side or "", {}))
            slots |= {slot.slot for slot in read.data.fitted}
    for slot in (slot for wanted in fitted.values() for slot in wanted):
        if slot not in slots:
            raise UnknownNameError(what="slot", name=slot, known=slots)
    return parts


def _read_connections(draft: Draft, origin: Read[SetupFile]) -> None:
    for number, table in enumerate(origin.data.connection):
        for connection in _connections(draft, origin, table, ("connection", number)):
            if connection.id in draft.connections:
                seen = f"the connection “{table.name}” is defined twice"
                draft.complain(origin, ("connection", number, "name"), seen, "give each connection its own name")
            draft.connections[connection.id] = connection


def _connections(draft: Draft, origin: Read[SetupFile], table: ConnectionTable, where: Where) -> Iterator[Connection]:
    """Yield the connections that a table stands for, one for each side or one for both, with a branch for each pin."""
    for side in (None,) if table.shared else SIDES:
        name = f"{side} {table.name}" if side else table.name
        pins: dict[str, str] = {}
        bridge: dict[str, str] = {}
        for line, pair in table.pins.items():
            branch = f"{name} {line}"
            nodes = [draft.far_node(end, side) for end in (filled(pair, {"side": side}) if side else pair)]
            for node, end in zip(nodes, pair, strict=True):
                draft.check_node(origin, (*where, "pins"), node, end)
            draft.branches[branch] = Branch(branch, nodes[0], nodes[1], PLUG_OHMS)
            pins[line] = branch
            for end, node in zip(pair, nodes, strict=True):
                if end.rsplit(" ", 1)[0] == table.bridge:
                    bridge[line] = node
        yield Connection(name, pins, bridge)
