"""The control table as JSON: a competition, an item with its tests, the figures. docs/json.md describes the keys."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from foible.services.control.at_station import ItemView, TestLine
    from foible.services.control.competition import Overview
    from foible.services.control.rejecting import RejectSheet
    from foible.services.control.reports import Tally

__all__ = ["competition_json", "item_json", "items_json", "reject_json", "tally_json"]


def competition_json(seen: Overview) -> dict[str, Any]:
    """Return a competition as it stands; no name of a fencer is in it."""
    told = {
        "schema": "foible.control/1",
        "competition": asdict(seen.competition),
        "stations": [asdict(each) for each in seen.stations],
        "fencers": len(seen.entrants),
        "items": len(seen.items),
        "counts": {state.value: count for state, count in seen.counts.items()},
        "to_test": seen.to_test,
        "in_the_room": seen.in_the_room,
        "retests": seen.retests,
        "to_settle": [item.id for item in seen.to_settle],
        "unmarked": [item.id for item in seen.unmarked],
    }
    return _plain(told)


def items_json(items: Iterable[Any]) -> list[dict[str, Any]]:
    """Return items that were handed in."""
    return [_plain(asdict(item)) for item in items]


def item_json(view: ItemView) -> dict[str, Any]:
    """Return an item with its tests and what is entered of each."""
    told = asdict(view.item) | {
        "words": view.words,
        "fencer": view.entrant.number,
        "tests": [_test(line) | {"missing": line.to_test.key in view.missing} for line in view.lines],
        "marks": [each.what for each in view.marks],
        "reject_form": view.form.number if view.form else None,
    }
    return _plain(told)


def reject_json(sheet: RejectSheet) -> dict[str, Any]:
    """Return a reject form."""
    return _plain({"schema": "foible.reject/1"} | asdict(sheet))


def tally_json(tally: Tally) -> dict[str, Any]:
    """Return the figures of a table; no name of a person is in them."""
    lines = {by: [asdict(line) | {"share": line.share} for line in those] for by, those in tally.groups.items()}
    return _plain({"schema": "foible.tally/1"} | asdict(tally) | {"groups": lines})


def _test(line: TestLine) -> dict[str, Any]:
    requirement = line.to_test.requirement
    return {
        "requirement": requirement.id,
        "line": line.to_test.line,
        "quantity": requirement.quantity,
        "demanded": requirement.figure,
        "clause": requirement.clause,
        "station": requirement.station,
        "typed": line.to_test.typed,
        "clash": line.clash,
        "entries": [asdict(entry) for entry in line.entries],
    }


def _plain(told: dict[str, Any]) -> dict[str, Any]:
    """Return the same with days and moments as ISO 8601 writes them."""
    return dict(json.loads(json.dumps(told, default=lambda day: day.isoformat())))
