"""The queue of a control table as JSON: its forecast, the order of tests, a plan. docs/json.md describes the keys."""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import date, time, timedelta
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from foible.services.control.forecasts import QueueNow
    from foible.services.control.plans import Planned
    from foible.services.control.test_order import StationOrder

__all__ = ["order_json", "plan_json", "queue_json"]


def queue_json(queue: QueueNow) -> dict[str, Any]:
    """Return when a queue is gone, by stage, and what more people save; no name of a person is in it."""
    return _plain({"schema": "foible.queue/1"} | asdict(queue))


def order_json(orders: Iterable[StationOrder]) -> dict[str, Any]:
    """Return the order of tests of each kind of item at each station."""
    told = [
        {
            "kind": each.kind,
            "weapon": each.weapon,
            "station": each.does.value,
            "saves": each.saves,
            "takes": asdict(each.takes),
            "by_clause": asdict(each.by_clause),
            "tests": [
                {"requirement": requirement.id, "quantity": requirement.quantity, "clause": requirement.clause, "tool": test.tool}
                | {"seconds": test.seconds}
                | asdict(chance)
                for requirement, test, chance in each.tests
            ],
        }
        for each in orders
    ]
    return _plain({"schema": "foible.test-order/1", "stations": told})


def plan_json(plan: Planned) -> dict[str, Any]:
    """Return what comes of a plan."""
    return _plain({"schema": "foible.table-plan/1"} | asdict(plan))


def _plain(told: dict[str, Any]) -> dict[str, Any]:
    """Return the same with instants as ISO 8601 writes them, and spans of time in seconds."""
    return dict(json.loads(json.dumps(told, default=_value)))


def _value(value: object) -> object:
    if isinstance(value, timedelta):
        return value.total_seconds()
    if isinstance(value, date | time):
        return value.isoformat()
    msg = f"{value!r} has no place in JSON"
    raise TypeError(msg)
