"""Failure tables in; failures out, added to the draft of a set-up with all their names looked up."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from foible.facts import FACTS, LYING_ALONE
from foible.kit.draft import node_id
from foible.kit.model import Failure
from foible.kit.names import SIDES
from foible.kit.repairs import unknown_repair

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from foible.kit.draft import Draft, Where
    from foible.kit.folders import Read
    from foible.kit.items import PartEntry
    from foible.kit.model import Item
    from foible.kit.schema import FailuresFile, FailureTable, LadderTable

__all__ = ["check_added", "read_failures"]


def check_added(draft: Draft, added: Sequence[Read[FailuresFile]]) -> None:
    """Complain of failures that files add to parts that do not exist."""
    names = {part.id.removeprefix(f"{side} ") for part in draft.parts.values() for side in SIDES}
    for read in added:
        for number, table in enumerate(read.data.failure):
            if table.part not in names:
                seen = f"there is no part “{table.part}”"
                draft.complain(read, ("failure", number, "part"), seen, "name item and part: “weapon grip nut”")


def read_failures(
    draft: Draft, entry: PartEntry, added: Sequence[Read[FailuresFile]], ladders: Mapping[str, LadderTable]
) -> None:
    """Read the failures of a part. An apparatus set to the rule profile in use has not failed, so that failure is left out."""
    for table, origin, where in _tables(entry, added):
        if table.profile != draft.profile:
            _read_failure(draft, entry, table, origin, where, ladders)


def _tables(entry: PartEntry, added: Sequence[Read[FailuresFile]]) -> Iterator[tuple[FailureTable, Read[Any], Where]]:
    """Yield the failures of a part's own file, and then those that other files add."""
    for number, failure in enumerate(entry.table.failure):
        yield failure, entry.origin, (*entry.where, "failure", number)
    for read in added:
        for number, table in enumerate(read.data.failure):
            if table.part == f"{entry.item.kind} {entry.table.name}":
                yield table, read, ("failure", number)


# long: one line for each key
def _read_failure(  # noqa: PLR0913, PLR0917 — a table, where it stands, and what its names are looked up in
    draft: Draft, entry: PartEntry, table: FailureTable, origin: Read[Any], where: Where, ladders: Mapping[str, LadderTable]
) -> None:
    item, failure_id = entry.item, f"{entry.id}: {table.mode}"
    draft.check_source(origin, where, table.source)
    if table.repair is not None and table.repair not in draft.repairs:
        draft.complain(origin, (*where, "repair"), *unknown_repair(table.repair, draft.repairs))
    _check_facts(draft, table, origin, where)
    ladder = ladders.get(table.severity)
    if ladder is None:
        remedy = f"use one of {', '.join(ladders)}"
        draft.complain(origin, (*where, "severity"), f"there is no severity “{table.severity}”", remedy)
        return
    exchange = [draft.branch(item, name, origin, (*where, "exchange")) for name in table.exchange or ()]
    raises = tuple(draft.cut(item, name, origin, (*where, "raise")) for name in table.raise_)
    sets = {draft.branch(item, name, origin, (*where, "set")): ohms for name, ohms in table.set.items()}
    joins = tuple((_joined(draft, item, a, origin, where), _joined(draft, item, b, origin, where)) for a, b in table.join)
    if failure_id in draft.failures:
        draft.complain(origin, (*where, "mode"), f"“{table.mode}” is defined twice", "give each mode its own name")
    draft.failures[failure_id] = Failure(
        id=failure_id,
        part=entry.id,
        item=item.id,
        mode=table.mode,
        raises=raises,
        joins=joins,
        sets=sets,
        exchange=(exchange[0], exchange[1]) if exchange else None,
        ladder=tuple(zip(ladder.ohms, ladder.share, strict=True)),
        rate=table.rate / (2 if item.side else 1),
        intermittent={"steady": 0.0, "intermittent": 1.0}.get(table.only or "", table.intermittent),
        source=table.source,
        signs=dict(table.signs),
        gauges=dict(table.gauges),
        spoils=table.spoils,
        profile=table.profile,
        repair=table.repair,
        when=dict(table.when),
        out_of_use=table.out_of_use,
    )


def _check_facts(draft: Draft, table: FailureTable, origin: Read[Any], where: Where) -> None:
    for fact in table.when:
        known = (*FACTS, LYING_ALONE)
        if fact not in known:
            draft.complain(origin, (*where, "when"), f"there is no fact “{fact}”", f"use one of {', '.join(known)}")


def _joined(draft: Draft, item: Item, name: str, origin: Read[Any], where: Where) -> str:
    """Return the node that a failure joins: one of its own item, or “item node” of another."""
    node = draft.far_node(name, item.side) if " " in name else node_id(item.id, name)
    draft.check_node(origin, (*where, "join"), node, name)
    return node
