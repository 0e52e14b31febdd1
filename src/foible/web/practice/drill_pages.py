"""Requests for drills in; out, one question on a screen, the reason as soon as it is answered, and a count after a minute.

The minute is the time spent on questions. Whoever reads a reason, or goes away, loses none of it. The session holds the run.
"""

from __future__ import annotations

import secrets
import time
from dataclasses import asdict, fields, replace
from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Depends, Form, Path, Request
from starlette.responses import HTMLResponse, RedirectResponse, Response

from foible.drawing import Marks, item_svg, strip_svg
from foible.practice import subject, subjects
from foible.practice.drills import ANY, CHOICES, drilled_ideas
from foible.services.practice.drills import MOST, Run, drill_of, drilled_weapons, once, reason_of, result_of
from foible.services.practice.standing import next_of
from foible.web.lanes import looks_up, reasons
from foible.web.practice.learner import learner_of, noted, shelves_of, standings_of
from foible.web.security import check_form
from foible.web.shared import cases_of, drawn, in_address, redirect, render, weapon_of

if TYPE_CHECKING:
    from foible.practice.drills import Drill
    from foible.services.practice.drills import Reason

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice/drills")
RUN = "drill"
"""What the session calls the run."""
Seed = Annotated[str, Path(pattern=r"^[0-9a-z]{1,12}$")]
Number = Annotated[int, Path(ge=1, le=MOST)]
Chosen = Annotated[int, Path(ge=1, le=CHOICES)]


@router.get("")
@looks_up
def choose(request: Request) -> HTMLResponse:
    """Show at which weapons and about which ideas there are drills."""
    weapons = [(weapon, drilled_ideas(weapon.name)) for weapon in drilled_weapons(cases_of(request).reasoning)]
    titles = {each.name: each.title for each in subjects()}
    lessons = shelves_of(request)
    coming = next_of(standings_of(request), lessons.taught)
    values = {"weapons": weapons, "titles": titles, "any_idea": ANY, "next": coming, "lessons": lessons}
    return render(request, "practice/drills.html", **values)  # type: ignore[arg-type]


@router.get("/{word}/{idea}")
@looks_up
def begin(request: Request, word: str, idea: str) -> Response:
    """Lead to the first question of a new run."""
    weapon = weapon_of(request, word)
    with in_address():
        if idea != ANY:
            subject(idea)
    return RedirectResponse(f"/practice/drills/{weapon.word}/{idea}/{secrets.token_hex(3)}/1", 303)


@router.get("/{word}/{idea}/{seed}/count")
@looks_up
def count(request: Request, word: str, idea: str, seed: Seed) -> HTMLResponse:
    """Show how many were answered in the minute, and how many rightly."""
    weapon, run = weapon_of(request, word), _run(request, word, idea, seed)
    return render(request, "practice/drill_count.html", weapon=weapon, idea=idea, title=_title(idea), run=run)


@router.get("/{word}/{idea}/{seed}/{number}")
@reasons
def question(request: Request, word: str, idea: str, seed: Seed, number: Number) -> HTMLResponse:
    """Show a question; its time begins when it is first shown."""
    drill, now = _drill(request, word, idea, seed, number), time.time()
    run = _run(request, word, idea, seed).ask(number, now)
    _keep(request, run)
    return _page(request, drill, run, number, left=run.left(number, now))


@router.post("/{word}/{idea}/{seed}/{number}", dependencies=[Depends(check_form)])
@reasons
def answered(
    request: Request, word: str, idea: str, seed: Seed, number: Number, chosen: Annotated[int, Form(ge=1, le=CHOICES)]
) -> Response:
    """Take an answer, once, and lead to the reason."""
    drill, run, now = _drill(request, word, idea, seed, number), _run(request, word, idea, seed), time.time()
    if number == run.asked and number > run.last:
        right = drill.choices[chosen - 1].right
        shown = result_of(drill, seed, number, right=right, seconds=run.seconds(number, now))
        kept = noted(request, shown, token=once(learner_of(request), word, idea, seed, number))
        _keep(request, replace(run.answer(number, now, right=right), kept=kept))
    return redirect(request, f"/practice/drills/{word}/{idea}/{seed}/{number}/{chosen}")


@router.get("/{word}/{idea}/{seed}/{number}/{chosen}")
@reasons
def reason(request: Request, word: str, idea: str, seed: Seed, number: Number, chosen: Chosen) -> HTMLResponse:
    """Show whether an answer was right, and why, with the way of the current. Nothing is noted by looking at it."""
    drill, run = _drill(request, word, idea, seed, number), _run(request, word, idea, seed)
    why = reason_of(cases_of(request).reasoning, drill)
    values = {"chosen": chosen - 1, "why": why, "drawing": drawn(_drawing(request, drill, why))}
    return _page(request, drill, run, number, **values)


def _drill(request: Request, word: str, idea: str, seed: str, number: int) -> Drill:
    with in_address():
        return drill_of(cases_of(request).reasoning, weapon_of(request, word).name, idea, seed, number)


def _run(request: Request, word: str, idea: str, seed: str) -> Run:
    """Return the run that an address belongs to, as the session has it; a new one where it has another."""
    of, known = f"{word}/{idea}/{seed}", request.session.get(RUN)
    if isinstance(known, dict) and known.get("of") == of and known.keys() <= {each.name for each in fields(Run)}:
        return Run(**known)
    return Run(of)


def _keep(request: Request, run: Run) -> None:
    request.session[RUN] = asdict(run)


def _page(request: Request, drill: Drill, run: Run, number: int, **values: object) -> HTMLResponse:
    title, at = _title(run.of.split("/")[1]), f"/practice/drills/{run.of}"
    known = {"chosen": None, "at": at, "number": number, "run": run, "title": title, "idea": subject(drill.subject)}
    return render(request, "practice/drill.html", drill=drill, **known | values)  # type: ignore[arg-type]


def _title(idea: str) -> str:
    return "every idea in turn" if idea == ANY else subject(idea).title


def _drawing(request: Request, drill: Drill, why: Reason) -> str:
    """Return the strip with the way of the current, or the item that lies on the bench."""
    setup = cases_of(request).reasoning.setup(drill.weapon)
    marks = Marks(
        way=why.circuit.way if why.circuit else (),
        cuts=why.circuit.cuts if why.circuit else (),
        trial=why.trial,
        chosen=why.item,
        lamps=why.lamps,
        hidden=[item.id for item in setup.items.values() if item.tool or item.handling],
    )
    return item_svg(setup, why.item, marks) if why.on_bench else strip_svg(setup, marks)
