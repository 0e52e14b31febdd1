"""What the register teaches, and a season of it, as JSON. docs/json.md describes the shapes."""

from __future__ import annotations

from dataclasses import asdict
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request

from foible.services.register.learned import learned_page
from foible.web.lanes import looks_up
from foible.web.register.learned_pages import teacher_of
from foible.web.register.season_pages import Wanted, season_asked
from foible.web.shared import cases_of

if TYPE_CHECKING:
    from foible.services.register.lives_seen import PartLife

__all__ = ["router"]

router = APIRouter(prefix="/api/register", tags=["register"])
Weapon = Annotated[str | None, Query(max_length=20, description="The weapon; by default the usual one.")]


@router.get("/season")
@looks_up
def season_json(request: Request, asked: Wanted) -> dict[str, Any]:
    """Return the same as JSON, but for the lives' curves."""
    made = season_asked(request, asked)
    return {
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


@router.get("/learned")
@looks_up
def learned_json(request: Request, weapon: Weapon = None) -> dict[str, Any]:
    """Return what the register teaches about a weapon's kit."""
    teacher = teacher_of(request)
    setup = cases_of(request).reasoning.setup(weapon)
    page = learned_page(teacher, setup)
    return {"schema": "foible.learned/1", "counts": teacher.store.learns().value} | asdict(page)


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
