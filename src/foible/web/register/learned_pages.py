"""What the register has taught: shown openly, switched on and off, and a case reasoned with it and without."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any, cast

from fastapi import APIRouter, Depends, Form, Request
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.drawing import interval_svg
from foible.services.reasoners import published
from foible.services.register.from_case import title_codes
from foible.services.register.learned import among_items, item_history, learned_page
from foible.web.lanes import looks_up, reasons
from foible.web.register.signed_in import who
from foible.web.security import check_form
from foible.web.shared import cases_of, drawn, in_address, redirect, render

if TYPE_CHECKING:
    from markupsafe import Markup

    from foible.services.register.learned import Line
    from foible.services.register.teacher import Teacher
    from foible.services.verdict import Diagnosis

__all__ = ["router", "teacher_of"]

router = APIRouter(include_in_schema=False, prefix="/register/learned")
Checked = Depends(check_form)
LISTED = 20
"""Failures and items that are shown; the JSON has all."""
ITEMS = 10
"""Items that are shown."""
COMPARED = 8
"""Suspects that are shown side by side."""


def teacher_of(request: Request) -> Teacher:
    """Return what knows what the register teaches."""
    return cast("Teacher", request.app.state.teacher)


@router.get("")
@looks_up
def learned(request: Request, weapon: str | None = None) -> HTMLResponse:
    """Show what the register teaches about a weapon's kit."""
    reasoning, teacher = cases_of(request).reasoning, teacher_of(request)
    with in_address():
        setup = reasoning.setup(weapon)
    page = learned_page(teacher, setup)
    makes, items = among_items(teacher, page, ITEMS)
    return render(
        request,
        "learned.html",
        page=page,
        weapons=reasoning.weapons(),
        choice=teacher.store.learns(),
        makes=makes,
        items=items,
        listed=LISTED,
        plot=_plot,
    )


@router.post("", dependencies=[Checked])
@looks_up
def switch_learning(request: Request, learns: Annotated[str, Form()], version: Annotated[int, Form()]) -> Response:
    """Let the register count in the reasoning, or not."""
    teacher_of(request).switch(learns=learns == "on", version=version, by=who(request))
    return redirect(request, "/register/learned")


@router.get("/cases/{name}")
@reasons
def compared(request: Request, name: str) -> HTMLResponse:
    """Show the suspects of a case with what the register teaches, and without."""
    cases, teacher = cases_of(request), teacher_of(request)
    standing = cases.standing(name)
    reasoning = cases.reasoning_of(standing)
    trials, setup, about = standing.diagnosis.trials, standing.case.setup, standing.situation.item
    taught = teacher.rates_in(standing.kept.title, standing.situation) or teacher.rates
    own, usual = (reasoning.taught(rates).diagnose(standing.case, trials) for rates in (taught, published))
    history = next((teacher.own_history(setup, code, about) for code in title_codes(standing.kept.title) if about), None)
    return render(
        request,
        "learned_case.html",
        standing=standing,
        rows=_rows(own, usual),
        own=own,
        usual=usual,
        history=history if teacher.rates(setup) else None,
        plot=_plot,
    )


@router.get("/items/{code}")
@looks_up
def item(request: Request, code: str) -> HTMLResponse:
    """Show how often one item comes back, against others of its kind."""
    teacher = teacher_of(request)
    store = teacher.store
    kind, weapon = store.kind_of(code)
    history = item_history(store.items(kind, weapon), store.finds(kind, weapon), code.strip().lower(), teacher.clock())
    return render(request, "learned_item.html", history=history, kind=kind, plot=_plot)


def _rows(own: Diagnosis, usual: Diagnosis) -> list[dict[str, Any]]:
    """Return the parts most suspected by either, with both probabilities."""
    shares = [{suspect.part: suspect.probability for suspect in each.finding.suspects} for each in (own, usual)]
    first = [suspect.part for each in (own, usual) for suspect in each.finding.suspects[:COMPARED]]
    both = {part: tuple(share.get(part, 0.0) for share in shares) for part in dict.fromkeys(first)}
    order = sorted(both, key=lambda part: -max(both[part]))[:COMPARED]
    return [{"part": part, "own": both[part][0], "usual": both[part][1]} for part in order]


def _plot(line: Line) -> Markup:
    label = f"{line.times:.2g} times as often as usual, with 90 % between {line.low:.2g} and {line.high:.2g}"
    return drawn(interval_svg(line.low, line.times, line.high, label=label))
