"""Gauges and weights as they were measured in; out, whether they may be used, their margins, and what they prove of a weapon."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.errors import InputError
from foible.services.control.figures import figure, figure_or_none, rounded
from foible.services.control.instruments import usual_for, usual_named, usuals
from foible.services.control.verdicts import OFFICIALS, RULES, chance_words, gauges_known, rule_named, tools_checked
from foible.web.lanes import looks_up
from foible.web.shared import render

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
Short = Annotated[str, Query(max_length=80)]


@router.get("/shims")
@looks_up
def shims(request: Request, rule: Short = RULES[1].value, risk: Short = "5") -> HTMLResponse:
    """Show the gauges and weights of control, and what those come to that were measured."""
    known = gauges_known()
    typed = {name: request.query_params.get(name, "")[:30] for name in known}
    by = {name: request.query_params.get(f"{name} by", "")[:80] or usual_for(each.own).name for name, each in known.items()}
    found, problem = None, None
    try:
        percent = figure(risk, "risk", least=0.1, most=49)
        found = tools_checked(_measured(typed, by), rule=rule_named(rule), risk=percent / 100)
    except InputError as error:
        problem = error
    return render(
        request,
        "control/shims.html",
        problem.http_status if problem else 200,
        known=known,
        typed=typed,
        by=by,
        usuals=usuals(),
        found=found,
        problem=problem,
        rules=RULES,
        rule=rule,
        risk=risk,
        chance=chance_words,
        rounded=rounded,
        officials=OFFICIALS,
    )


def _measured(typed: Mapping[str, str], by: Mapping[str, str]) -> dict[str, tuple[float, float]]:
    """Return what was typed as values with their standard uncertainties, in the unit of each gauge. Raises InputError."""
    known, found = gauges_known(), {}
    for name, text in typed.items():
        value = figure_or_none(text, name, most=5000)
        if value is not None:
            instrument = usual_named(by[name]).within(known[name].own.unit)
            found[name] = (instrument.corrected(value), instrument.uncertainty(value))
    return found
