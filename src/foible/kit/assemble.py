"""Item files put together to a strip set-up, with every slip in them collected and located."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from foible.circuit import Branch, Network
from foible.errors import ProblemsError, UnknownNameError
from foible.kit.expand import expanded
from foible.kit.folders import KitFolders, Read
from foible.kit.model import Connection, Failure, Item, Part, Point, Setup
from foible.kit.names import SIDES, WHOLE_SIDE, Book
from foible.kit.repairs import read_repairs, unknown_repair
from foible.kit.schema import (
    ConnectionTable,
    FailuresFile,
    FailureTable,
    FittingFile,
    ItemFile,
    PartTable,
    PointTable,
    SetupFile,
    SeveritiesFile,
    SourcesFile,
)
from foible.kit.weapons import weapon_at

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from foible.errors import Problem
    from foible.kit.schema import LadderTable
    from foible.kit.weapon import Weapon

__all__ = ["load_setup"]

PLUG_OHMS = 0.01
"""Contact of a sound pin in a sound socket beyond what the two parts carry themselves [Ω]; judgement, no source."""

SETUPS = 16
"""Set-ups that stay in memory."""

FailureAt = tuple[FailureTable, "Read[ItemFile] | Read[FittingFile] | Read[FailuresFile]", tuple[str | int, ...]]


def load_setup(weapon: str, *, fitted: Mapping[str, Mapping[str, str]] | None = None, overlays: Sequence[Path] = ()) -> Setup:
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
    """Return a set-up, put together anew only where the files laid over the kit have changed, which `stamp` tells."""
    del stamp
    folders = KitFolders(overlays)
    kind = weapon_at(weapon, overlays)
    origin = folders.read(SetupFile, "setups", kind.word)
    return _Assembly(kind, folders, origin, {side: dict(slots) for side, slots in fitted}).setup()


@dataclass
class _Assembly:
    """The state of putting one set-up together."""

    kind: Weapon
    folders: KitFolders
    origin: Read[SetupFile]
    fitted: Mapping[str, Mapping[str, str]]
    problems: list[Problem] = field(default_factory=list)
    items: dict[str, Item] = field(default_factory=dict)
    parts: dict[str, Part] = field(default_factory=dict)
    branches: dict[str, Branch] = field(default_factory=dict)
    failures: dict[str, Failure] = field(default_factory=dict)
    nodes: set[str] = field(default_factory=set)
    places: dict[str, str] = field(default_factory=dict)
    movements: dict[str, str] = field(default_factory=dict)
    points: dict[str, Point] = field(default_factory=dict)
    cloth: set[str] = field(default_factory=set)
    long: set[str] = field(default_factory=set)
    broad: dict[str, tuple[str, ...]] = field(default_factory=dict)
    moving: list[tuple[str, Item, PartTable, Read[Any], tuple[str | int, ...]]] = field(default_factory=list)
    """Movements to be read once all handles are known."""
    slots: set[str] = field(default_factory=set)
    waiting: list[tuple[Item, PartTable, FailureAt]] = field(default_factory=list)
    """Failures to be read once all parts and nodes are known."""

    @property
    def file(self) -> SetupFile:
        return self.origin.data

    def setup(self) -> Setup:
        self.ladders = self.folders.read(SeveritiesFile, "", "severities").data.ladder
        self.citations = self._citations()
        self.repairs, slips = read_repairs(self.folders, self.citations)
        self.problems += slips
        self.extra = self.folders.every(FailuresFile, "failures")
        for kind, name in self.file.shared.items():
            self._item(kind, None, name)
        for side in SIDES:
            for kind, name in self.file.each_side.items():
                self._item(kind, side, name)
        self._slots()
        connections = self._connections()
        self._unclaimed_extras()
        if self.file.setup.weapon != self.kind.name:
            seen = f"this is the set-up of “{self.kind.name}”, not of “{self.file.setup.weapon}”"
            self._complain(self.origin, ("setup", "weapon"), seen, "mend the name, or move the set-up to a file of its own")
        for moved in self.moving:
            self._movements(*moved)
        for entry in self.waiting:
            if entry[2][0].profile != self.file.setup.profile:  # set to the weapon in use is no failure
                self._failure(*entry)
        if self.problems:
            raise ProblemsError(dict.fromkeys(self.problems))
        return Setup(
            kind=self.kind,
            profile=self.file.setup.profile,
            network=Network(tuple(self.branches.values())),
            items=Book("item", self.items),
            parts=Book("part", self.parts),
            failures=Book("failure", self.failures),
            repairs=Book("repair", self.repairs),
            places=Book("place", self.places),
            cloth=frozenset(self.cloth),
            long=frozenset(self.long),
            broad=self.broad,
            connections=Book("connection", connections),
            movements=Book("movement", self.movements),
            points=self.points,
            signs=frozenset(sign for failure in self.failures.values() for sign in failure.signs),
            gauges=frozenset(gauge for failure in self.failures.values() for gauge in failure.gauges),
            overlays=self.folders.folders[1:],
            citations=self.citations,
        )

    def _citations(self) -> dict[str, str]:
        """Return the citations of every folder together, so that an overlay adds its own without copying the rest."""
        merged: dict[str, str] = {}
        for read in self.folders.every(SourcesFile, "sources"):
            merged |= read.data.sources
        return merged

    # --- items and parts ------------------------------------------------------------------------------------------

    def _item(self, kind: str, side: str | None, name: str) -> None:
        read = self.folders.read(ItemFile, "items", name)
        item_id = f"{side} {kind}" if side else kind
        box = {line: _node(item_id, node) for line, node in read.data.box.items()}
        item = Item(item_id, kind, side, read.data.item.exchange_s, box)
        self.items[item_id] = item
        tables: list[tuple[PartTable, Read[ItemFile] | Read[FittingFile], tuple[str | int, ...]]]
        tables = [(part, read, ("part", i)) for i, part in enumerate(read.data.part)]
        for slot in read.data.fitted:
            model = self.fitted.get(side or "", {}).get(slot.slot, slot.model)
            filling = self.folders.read(FittingFile, f"{slot.slot}s", model)
            self.slots.add(slot.slot)
            if slot.half == "plug" and filling.data.socket and filling.data.socket.plug:
                filling = self.folders.read(FittingFile, f"{slot.slot}s", filling.data.socket.plug)
            half = "plug_part" if slot.half == "plug" else "part"
            tables += [(part, filling, (half, i)) for i, part in enumerate(getattr(filling.data, half))]
        for handle, verbs in read.data.handles.items():
            self.movements |= {f"{verb} {item_id} {handle}": item_id for verb in verbs}
        for table, origin, where in tables:
            for part in expanded(table):
                self._part(item, part, origin, where)
        self._places(item, read)
        if read.data.point and side:
            self._point(item, read, read.data.point, side)

    def _point(self, item: Item, read: Read[ItemFile], table: PointTable, side: str) -> None:
        nodes = {key: name for key, name in (("face", table.face), ("collar", table.collar)) if name}
        for key, name in nodes.items():
            self._known(read, ("point", key), _node(item.id, name), name)
        self.points[side] = Point(
            opens=tuple(self._branch(item, name, read, ("point", "opens")) for name in table.opens),
            closes=tuple(self._branch(item, name, read, ("point", "closes")) for name in table.closes),
            face=_node(item.id, table.face),
            collar=_node(item.id, table.collar) if table.collar else None,
        )

    def _slots(self) -> None:
        """Refuse what is to be fitted where nothing has such a slot."""
        for wanted in self.fitted.values():
            for slot in wanted:
                if slot not in self.slots:
                    raise UnknownNameError(what="slot", name=slot, known=self.slots)

    def _places(self, item: Item, read: Read[ItemFile]) -> None:
        data = read.data
        for place, node in data.places.items():
            self._known(read, ("places", place), _node(item.id, node), node)
            self.places[f"{item.id} {place}"] = _node(item.id, node)
            if data.item.cloth:
                self.cloth.add(f"{item.id} {place}")
        self.long |= {f"{item.id} {place}" for place in data.long}
        for place, nodes in data.broad.items():
            for node in nodes:
                self._known(read, ("broad", place), _node(item.id, node), node)
            self.broad[f"{item.id} {place}"] = tuple(_node(item.id, node) for node in nodes)
        main = next(iter(data.places), None) if len(data.places) == 1 else data.item.main_place
        if main in data.places:
            self.places[item.id] = _node(item.id, data.places[main])
            if data.item.cloth:
                self.cloth.add(item.id)

    def _part(
        self,
        item: Item,
        table: PartTable,
        origin: Read[ItemFile] | Read[FittingFile],
        where: tuple[str | int, ...],
    ) -> None:
        part_id = f"{item.id} {table.name}"
        if part_id in self.parts:
            self._complain(
                origin,
                (*where, "name"),
                f"the part “{table.name}” stands twice",
                "give each part its own name",
            )
        if table.source not in self.citations:
            self._unknown_source(origin, where, table.source)
        self.moving.append((part_id, item, table, origin, where))
        conducts = table.ohms is not None
        self.parts[part_id] = Part(
            part_id,
            item.id,
            table.name,
            conducts,
            table.spread,
            table.source,
            {},
            {},
            table.look_s,
        )
        if table.ohms is not None and table.from_ is not None and table.to is not None:
            a, b = _node(item.id, table.from_), _node(item.id, table.to)
            self.branches[part_id] = Branch(part_id, a, b, table.ohms)
        self.nodes |= {_node(item.id, name) for name in (table.from_, table.to, *(table.insulates or ())) if name}
        for number, failure in enumerate(table.failure):
            self.waiting.append((item, table, (failure, origin, (*where, "failure", number))))
        for extra in self.extra:
            for number, added in enumerate(extra.data.failure):
                if added.part == f"{item.kind} {table.name}":
                    self.waiting.append((item, table, (added, extra, ("failure", number))))

    def _movements(self, part_id: str, item: Item, table: PartTable, origin: Read[Any], where: tuple[str | int, ...]) -> None:
        """Resolve what moves a part: handles of its own item, or “verb item handle” of another of the same side."""
        tables = (table.moved_by, table.held_by)
        resolved: list[dict[str, float]] = [{}, {}]
        for names, movements in zip(tables, resolved, strict=True):
            for name, chance in names.items():
                key = "moved_by" if names is table.moved_by else "held_by"
                movement = self._movement(item, name)
                if movement is None:
                    own = sorted(_own(item.id, each) for each, owner in self.movements.items() if owner == item.id)
                    remedy = f"use one of {', '.join(own) or 'none'}, “verb item handle” of another item, or “{WHOLE_SIDE}”"
                    self._complain(origin, (*where, key), f"“{name}” is no movement", remedy)
                else:
                    movements[movement] = chance
        self.parts[part_id] = replace(self.parts[part_id], moved_by=resolved[0], held_by=resolved[1])

    def _movement(self, item: Item, name: str) -> str | None:
        if name == WHOLE_SIDE:
            return f"{WHOLE_SIDE} {item.side}"
        verb, _, what = name.partition(" ")
        own, others = f"{verb} {item.id} {what}", f"{verb} {item.side} {what}"
        return next((movement for movement in (own, others) if movement in self.movements), None)

    def _unclaimed_extras(self) -> None:
        names = {part.id.removeprefix(f"{side} ") for part in self.parts.values() for side in SIDES}
        for extra in self.extra:
            for number, added in enumerate(extra.data.failure):
                if added.part not in names:
                    seen = f"there is no part “{added.part}”"
                    self._complain(extra, ("failure", number, "part"), seen, "name item and part: “weapon grip nut”")

    # --- connections ----------------------------------------------------------------------------------------------

    def _connections(self) -> dict[str, Connection]:
        made: dict[str, Connection] = {}
        for number, table in enumerate(self.file.connection):
            for side in (None,) if table.shared else SIDES:
                connection = self._connection(table, side, ("connection", number))
                if connection.id in made:
                    seen = f"the connection “{table.name}” stands twice"
                    self._complain(self.origin, ("connection", number, "name"), seen, "give each connection its own name")
                made[connection.id] = connection
        return made

    def _connection(self, table: ConnectionTable, side: str | None, where: tuple[str | int, ...]) -> Connection:
        name = f"{side} {table.name}" if side else table.name
        pins, bridge = {}, {}
        for line, pair in table.pins.items():
            branch = f"{name} {line}"
            nodes = [self._far_node(end.replace("{side}", side or ""), side) for end in pair]
            for node, end in zip(nodes, pair, strict=True):
                self._known(self.origin, (*where, "pins"), node, end)
            self.branches[branch] = Branch(branch, nodes[0], nodes[1], PLUG_OHMS)
            pins[line] = branch
            for end, node in zip(pair, nodes, strict=True):
                if table.bridge and end.rsplit(" ", 1)[0] == table.bridge:
                    bridge[line] = node
        return Connection(name, pins, bridge)

    def _far_node(self, text: str, side: str | None) -> str:
        """Return the node that “item node” names: an item of this side, or a shared one."""
        kind, node = text.rsplit(" ", 1)
        return _node(kind if kind in self.items else f"{side} {kind}", node)

    # --- failures -------------------------------------------------------------------------------------------------

    def _failure(self, item: Item, part: PartTable, at: FailureAt) -> None:
        table, origin, where = at
        part_id = f"{item.id} {part.name}"
        if table.source not in self.citations:
            self._unknown_source(origin, where, table.source)
        if table.repair is not None and table.repair not in self.repairs:
            self._complain(origin, (*where, "repair"), *unknown_repair(table.repair, self.repairs))
        ladder = self.ladders.get(table.severity)
        if ladder is None:
            remedy = f"use one of {', '.join(self.ladders)}"
            self._complain(origin, (*where, "severity"), f"there is no severity “{table.severity}”", remedy)
            return
        exchange = tuple(self._branch(item, name, origin, (*where, "exchange")) for name in table.exchange or ())
        raises = tuple(self._branch(item, name, origin, (*where, "raise")) for name in table.raise_)
        sets = {self._branch(item, name, origin, (*where, "set")): ohms for name, ohms in table.set.items()}
        joins = tuple((self._joined(item, a, origin, where), self._joined(item, b, origin, where)) for a, b in table.join)
        failure_id = f"{part_id}: {table.mode}"
        if failure_id in self.failures:
            self._complain(origin, (*where, "mode"), f"“{table.mode}” stands twice", "give each mode its own name")
        share = {"steady": 0.0, "intermittent": 1.0}.get(table.only or "", table.intermittent)
        self.failures[failure_id] = Failure(
            id=failure_id,
            part=part_id,
            item=item.id,
            mode=table.mode,
            raises=raises,
            joins=joins,
            sets=sets,
            exchange=(exchange[0], exchange[1]) if exchange else None,
            ladder=_steps(ladder),
            rate=table.rate / (2 if item.side else 1),
            intermittent=share,
            source=table.source,
            signs=dict(table.signs),
            gauges=dict(table.gauges),
            spoils=table.spoils,
            profile=table.profile,
            repair=table.repair,
        )

    def _branch(self, item: Item, name: str, origin: Read[Any], where: tuple[str | int, ...]) -> str:
        part_id = f"{item.id} {name}"
        if part_id not in self.branches:
            self._complain(
                origin,
                where,
                f"no part “{name}” of this item conducts",
                "name a part that has from, to and ohms",
            )
        return part_id

    def _joined(self, item: Item, name: str, origin: Read[Any], where: tuple[str | int, ...]) -> str:
        node = self._far_node(name, item.side) if " " in name else _node(item.id, name)
        self._known(origin, (*where, "join"), node, name)
        return node

    def _known(self, origin: Read[Any], where: tuple[str | int, ...], node: str, name: str) -> None:
        """Complain where no part begins or ends at `node`."""
        if node not in self.nodes:
            remedy = "name a node that a part of this item begins or ends at, or “item node”"
            self._complain(origin, where, f"there is no node “{name}”", remedy)

    def _unknown_source(self, origin: Read[Any], where: tuple[str | int, ...], source: str) -> None:
        seen = f"the source “{source}” is not in the list"
        self._complain(origin, (*where, "source"), seen, "add it to a file in sources/, or name one that is there")

    def _complain(self, origin: Read[Any], where: tuple[str | int, ...], seen: str, remedy: str) -> None:
        self.problems.append(origin.problem(where, seen, remedy))


def _node(item: str, name: str) -> str:
    return f"{item}.{name}"


def _own(item: str, movement: str) -> str:
    """Return a movement of `item` as its own file would write it."""
    return movement.replace(f" {item} ", " ", 1)


def _steps(ladder: LadderTable) -> tuple[tuple[float, float], ...]:
    return tuple(zip(ladder.ohms, ladder.share, strict=True))
