"""Item files in; items, parts and places out, added to the draft of a set-up, with what moves each part."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from foible.circuit import Branch
from foible.kit.braces import filled, side_words
from foible.kit.draft import node_id
from foible.kit.expand import expanded
from foible.kit.model import Item, Part, Point
from foible.kit.names import WHOLE_SIDE
from foible.kit.schema import FittingFile

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from foible.kit.draft import Draft, Where
    from foible.kit.folders import KitFolders, Read
    from foible.kit.schema import ItemFile, PartTable, PointTable

__all__ = ["PartEntry", "item_of", "read_item", "read_movements"]


@dataclass(frozen=True)
class PartEntry:
    """A part as a file gives it. Its movements and failures are read once everything that they may name is known."""

    item: Item
    table: PartTable
    origin: Read[Any]
    where: Where

    @property
    def id(self) -> str:
        """The name of the part in the set-up."""
        return f"{self.item.id} {self.table.name}"


def item_of(read: Read[ItemFile], kind: str, side: str | None) -> Item:
    """Return the item that a file describes, for one side, or for both."""
    item_id = f"{side} {kind}" if side else kind
    box = {line: node_id(item_id, node) for line, node in read.data.box.items()}
    head = read.data.item
    words = filled(head.words or item_id, side_words(side)) if side else head.words or item_id
    return Item(item_id, kind, side, head.exchange_s, box, words, head.tool)


def read_item(draft: Draft, folders: KitFolders, read: Read[ItemFile], item: Item, fitted: Mapping[str, str]) -> list[PartEntry]:
    """Read all that a file says of an item, and return its parts.

    `fitted` names other models than the usual ones, by slot. Raises UnknownNameError for a model that does not exist.
    """
    draft.items[item.id] = item
    for handle, verbs in read.data.handles.items():
        draft.movements |= {f"{verb} {item.id} {handle}": item.id for verb in verbs}
    entries = list(_entries(folders, read, item, fitted))
    for entry in entries:
        _read_part(draft, entry)
    _read_places(draft, item, read)
    if read.data.point and item.side:
        draft.points[item.side] = _point(draft, item, read, read.data.point)
    return entries


def _entries(folders: KitFolders, read: Read[ItemFile], item: Item, fitted: Mapping[str, str]) -> Iterator[PartEntry]:
    """Yield the item's own parts and those of what is fitted to it."""
    for i, table in enumerate(read.data.part):
        yield from (PartEntry(item, part, read, ("part", i)) for part in expanded(table))
    for slot in read.data.fitted:
        group, model = f"{slot.slot}s", fitted.get(slot.slot, slot.model)
        filling = folders.read(FittingFile, group, model)
        if slot.half == "plug" and filling.data.socket and filling.data.socket.plug:
            filling = folders.read(FittingFile, group, filling.data.socket.plug)
        half = "plug_part" if slot.half == "plug" else "part"
        for i, table in enumerate(getattr(filling.data, half)):
            yield from (PartEntry(item, part, filling, (half, i)) for part in expanded(table))


def _read_part(draft: Draft, entry: PartEntry) -> None:
    item, table, part_id = entry.item, entry.table, entry.id
    if part_id in draft.parts:
        seen = f"the part “{table.name}” is defined twice"
        draft.complain(entry.origin, (*entry.where, "name"), seen, "give each part its own name")
    draft.check_source(entry.origin, entry.where, table.source)
    conducts = table.ohms is not None
    draft.parts[part_id] = Part(part_id, item.id, table.name, conducts, table.spread, table.source, {}, {}, {}, table.look_s)
    if table.ohms is not None and table.from_ is not None and table.to is not None:
        ends = node_id(item.id, table.from_), node_id(item.id, table.to)
        draft.branches[part_id] = Branch(part_id, *ends, table.ohms)
    draft.nodes |= {node_id(item.id, name) for name in (table.from_, table.to, *(table.insulates or ())) if name}


def _read_places(draft: Draft, item: Item, read: Read[ItemFile]) -> None:
    data = read.data
    for place, node in data.places.items():
        draft.check_node(read, ("places", place), node_id(item.id, node), node)
        draft.places[f"{item.id} {place}"] = node_id(item.id, node)
        if data.item.cloth:
            draft.cloth.add(f"{item.id} {place}")
    draft.long |= {f"{item.id} {place}" for place in data.long}
    for place, nodes in data.broad.items():
        for node in nodes:
            draft.check_node(read, ("broad", place), node_id(item.id, node), node)
        draft.broad[f"{item.id} {place}"] = tuple(node_id(item.id, node) for node in nodes)
    main = next(iter(data.places), None) if len(data.places) == 1 else data.item.main_place
    if main in data.places:
        draft.places[item.id] = node_id(item.id, data.places[main])
        if data.item.cloth:
            draft.cloth.add(item.id)


def _point(draft: Draft, item: Item, read: Read[ItemFile], table: PointTable) -> Point:
    for key, name in (("face", table.face), ("collar", table.collar)):
        if name:
            draft.check_node(read, ("point", key), node_id(item.id, name), name)
    return Point(
        opens=tuple(draft.branch(item, name, read, ("point", "opens")) for name in table.opens),
        closes=tuple(draft.branch(item, name, read, ("point", "closes")) for name in table.closes),
        face=node_id(item.id, table.face),
        collar=node_id(item.id, table.collar) if table.collar else None,
    )


# --- movements, once all handles are known ----------------------------------------------------------------------------


def read_movements(draft: Draft, entry: PartEntry) -> None:
    """Read what moves a part and what holds it: handles of its own item, or “verb item handle” of another of the same side."""
    table = entry.table
    moved_by, held_by, parted_by = (
        _movements(draft, entry, key, names)
        for key, names in (("moved_by", table.moved_by), ("held_by", table.held_by), ("parted_by", table.parted_by))
    )
    draft.parts[entry.id] = replace(draft.parts[entry.id], moved_by=moved_by, held_by=held_by, parted_by=parted_by)


def _movements(draft: Draft, entry: PartEntry, key: str, names: Mapping[str, float]) -> dict[str, float]:
    """Return the chances by movement as the set-up calls it, and complain of movements that do not exist."""
    found: dict[str, float] = {}
    for name, chance in names.items():
        movement = _movement(draft, entry.item, name)
        if movement is None:
            own = sorted(_own(entry.item.id, each) for each, owner in draft.movements.items() if owner == entry.item.id)
            remedy = f"use one of {', '.join(own) or 'none'}, “verb item handle” of another item, or “{WHOLE_SIDE}”"
            draft.complain(entry.origin, (*entry.where, key), f"there is no movement “{name}”", remedy)
        else:
            found[movement] = chance
    return found


def _movement(draft: Draft, item: Item, name: str) -> str | None:
    if name == WHOLE_SIDE:
        return f"{WHOLE_SIDE} {item.side}"
    verb, _, what = name.partition(" ")
    own, others = f"{verb} {item.id} {what}", f"{verb} {item.side} {what}"
    return next((movement for movement in (own, others) if movement in draft.movements), None)


def _own(item: str, movement: str) -> str:
    """Return a movement of `item` as its own file would write it."""
    return movement.replace(f" {item} ", " ", 1)
