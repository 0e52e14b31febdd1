"""What the register teaches, and a season of it, as JSON. docs/json.md describes the shapes."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.services.register.learned import ItemLine, LearnedPage, Line
    from foible.services.register.lives_seen import PartLife
    from foible.services.register.season import Season

__all__ = ["learned_json", "season_json"]


def learned_json(page: LearnedPage, makes: Sequence[Line], items: Sequence[ItemLine], *, counts: bool) -> dict[str, Any]:
    """Return what the register teaches about a weapon's kit; `counts`: whether cases are reasoned with it."""
    found = {"makes": [asdict(line) for line in makes], "items": [_item_json(line) for line in items]}
    return _dated({"schema": "foible.learned/1", "counts": counts} | asdict(page) | found)


def season_json(made: Season) -> dict[str, Any]:
    """Return a season, but for the curves of lives."""
    told = {
        "schema": "foible.season/1",
        "plan": asdict(made.plan),
        "jobs": made.jobs,
        "minutes": made.minutes,
        "parts_cost": made.parts_cost,
        "causes": [asdict(cause) for cause in made.causes],
        "orders": [asdict(order) for order in made.orders],
        "spares": [asdict(spare) for spare in made.spares],
        "lives": [_life_json(life) for life in made.lives],
        "verdicts": [
            {"item": each.item.code, "jobs": each.jobs, "years": each.years, "cost": each.cost}
            | {"choice": asdict(each.choice) | {"word": each.choice.word}}
            for each in made.verdicts
        ],
        "care": [asdict(care) for care in made.care],
    }
    return _dated(told)


def _dated(told: dict[str, Any]) -> dict[str, Any]:
    """Return the same with days and moments as ISO 8601 writes them."""
    return dict(json.loads(json.dumps(told, default=lambda day: day.isoformat())))


def _item_json(each: ItemLine) -> dict[str, Any]:
    return {"code": each.code, "years": each.years} | asdict(each.line)


def _life_json(life: PartLife) -> dict[str, Any]:
    fitted = life.weibull
    return {
        "kind": life.kind,
        "name": life.name,
        "lives": life.lives,
        "failures": life.failures,
        "median_years": life.survival.median,
        "weibull": fitted and asdict(fitted) | {"median": fitted.median},
    }
