"""A season of the register: the page, the same as a report to print, and as JSON."""

from __future__ import annotations

from calendar import month_abbr
from datetime import date
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from pydantic import BaseModel, ConfigDict, Field
from starlette.responses import HTMLResponse, Response

from foible.drawing import pareto_svg, survival_svg
from foible.output.season_pdf import season_pdf
from foible.services.register.season import FAULTS, Plan, season, season_of, usual_repairs
from foible.web.lanes import looks_up
from foible.web.register.learned_pages import teacher_of
from foible.web.shared import cases_of, drawn, render

if TYPE_CHECKING:
    from collections.abc import Sequence

    from markupsafe import Markup

    from foible.services.register.lives_seen import PartLife
    from foible.services.register.season import Cause, Season

__all__ = ["Wanted", "router", "season_asked"]

router = APIRouter(include_in_schema=False)
LIVES = 6
"""Lives that the page shows, those with most failures; the report has all."""
LISTED = 10
"""Causes and verdicts that the page shows."""


class Asked(BaseModel):
    """What the form of the page asks for; `start` is any day of the season."""

    model_config = ConfigDict(extra="forbid")

    start: date | None = Field(None, ge=date(1970, 1, 1), le=date(2200, 1, 1))
    level: float = Field(0.95, gt=0.5, lt=0.9999)
    months: float = Field(10, gt=0, le=36)
    fencers: int = Field(20, ge=1, le=2000)
    days: int = Field(1, ge=1, le=30)
    per_hour: float = Field(10, ge=0, le=1000)
    """What an hour of the armourer's counts for [units of the currency]."""


Wanted = Annotated[Asked, Query()]


def season_asked(request: Request, asked: Asked) -> Season:
    """Return the season that a form asks for."""
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
    made = season_asked(request, asked)
    return render(
        request,
        "season.html",
        season=made,
        listed=LISTED,
        faults=FAULTS,
        asked=asked,
        address=urlencode(asked.model_dump(mode="json", exclude_none=True)),
        lives=[(life, _life_plot(life)) for life in sorted(made.lives, key=lambda life: -life.failures)[:LIVES]],
        pareto=_pareto(made.causes),
        earlier=made.plan.start.replace(year=made.plan.start.year - 1),
        months=month_abbr,
    )


@router.get("/register/season.pdf")
@looks_up
def season_report(request: Request, asked: Wanted) -> Response:
    """Return the same as a report to print."""
    made = season_asked(request, asked)
    headers = {"Content-Disposition": f'inline; filename="season-{made.plan.start.year}.pdf"'}
    return Response(season_pdf(made), media_type="application/pdf", headers=headers)


def _pareto(causes: Sequence[Cause]) -> Markup:
    shown = [(cause.name, cause.count, cause.together) for cause in causes]
    return drawn(pareto_svg(shown, label="how often the commonest failures were found, and their running share"))


def _life_plot(life: PartLife) -> Markup:
    curve, fitted = life.survival, life.weibull
    steps = list(zip(curve.age.tolist(), curve.share.tolist(), curve.low.tolist(), curve.high.tolist(), strict=True))
    until = 1.15 * float(curve.age[-1]) if steps else 1.0
    return drawn(survival_svg(steps, until, fitted.at if fitted else None, label=f"share of {life.name} that lasts, by age"))
