"""A season of the register: the page, the same as a report to print, and as JSON."""

from __future__ import annotations

from calendar import month_abbr
from dataclasses import asdict
from datetime import date  # noqa: TC003 — FastAPI reads the annotations
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import HTMLResponse, Response

from foible.drawing import pareto_svg, survival_svg
from foible.output.season_pdf import season_pdf
from foible.services.register.learned import learned_page
from foible.services.register.season import Plan, season, season_of, usual_repairs
from foible.web.lanes import looks_up
from foible.web.register.learned_pages import teacher_of
from foible.web.shared import cases_of, drawn, in_address, render

if TYPE_CHECKING:
    from collections.abc import Sequence

    from markupsafe import Markup

    from foible.services.register.lives_seen import PartLife
    from foible.services.register.season import Cause, Season

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
LISTED = 15
"""Causes and verdicts that the page shows."""


class Asked(BaseModel):
    """What the form of the page asks for; `start` is any day of the season."""

    model_config = ConfigDict(extra="forbid")

    start: date | None = None
    level: float = Field(0.95, gt=0.5, lt=0.9999)
    months: float = Field(10, gt=0, le=36)
    fencers: int = Field(20, ge=1, le=2000)
    days: int = Field(1, ge=1, le=30)
    per_hour: float = Field(10, ge=0, le=1000)
    """What an hour of the armourer's counts for [units of the currency]."""


Wanted = Annotated[Asked, Query()]


def _season(request: Request, asked: Asked) -> Season:
    teacher, reasoning = teacher_of(request), cases_of(request).reasoning
    now = teacher.clock()
    first, last = season_of(asked.start or now.date())
    plan = Plan(first, last, asked.level, asked.months, asked.fencers, asked.days, round(100 * asked.per_hour))
    repairs = usual_repairs([reasoning.setup(weapon.name) for weapon in reasoning.weapons()])
    return season(teacher.store, plan, repairs, now)


@router.get("/register/season")
@looks_up
def season_page(request: Request, asked: Wanted) -> HTMLResponse:
    """Show a season."""
    made = _season(request, asked)
    return render(
        request,
        "season.html",
        season=made,
        listed=LISTED,
        asked=asked,
        address=urlencode(asked.model_dump(mode="json", exclude_none=True)),
        lives=[(life, _life_plot(life)) for life in made.lives],
        pareto=_pareto(made.causes),
        earlier=made.plan.start.replace(year=made.plan.start.year - 1),
        months=month_abbr,
    )


@router.get("/register/season.pdf")
@looks_up
def season_report(request: Request, asked: Wanted) -> Response:
    """Return the same as a report to print."""
    made = _season(request, asked)
    headers = {"Content-Disposition": f'inline; filename="season-{made.plan.start.year}.pdf"'}
    return Response(season_pdf(made), media_type="application/pdf", headers=headers)


@router.get("/api/register/season")
@looks_up
def season_json(request: Request, asked: Wanted) -> dict[str, Any]:
    """Return the same as JSON, but for the lives' curves."""
    made = _season(request, asked)
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


@router.get("/api/register/learned")
@looks_up
def learned_json(request: Request, weapon: str | None = None) -> dict[str, Any]:
    """Return what the register teaches about a weapon's kit."""
    teacher = teacher_of(request)
    with in_address():
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


def _pareto(causes: Sequence[Cause]) -> Markup:
    shown = [(cause.name, cause.count, cause.together) for cause in causes]
    return drawn(pareto_svg(shown, label="how often the commonest failures were found, and their running share"))


def _life_plot(life: PartLife) -> Markup:
    curve, fitted = life.survival, life.weibull
    steps = list(zip(curve.age.tolist(), curve.share.tolist(), curve.low.tolist(), curve.high.tolist(), strict=True))
    until = 1.15 * float(curve.age[-1]) if steps else 1.0
    return drawn(survival_svg(steps, until, fitted.at if fitted else None, label=f"share of {life.name} that lasts, by age"))
