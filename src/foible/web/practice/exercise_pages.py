"""A failure in; out, the page to print for an exercise on real kit, and the list of what can be staged and what is not."""

from __future__ import annotations

from typing import Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.drawing import Marks, part_svg
from foible.kit import SIDES
from foible.services.practice.bench_exercise import BenchExercise, Stageable, bench_exercise, ways_of
from foible.web.lanes import reasons
from foible.web.shared import cases_of, drawn, render, weapon_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice/exercise")


@router.get("/{word}")
@reasons
def exercise(request: Request, word: str, failure: Annotated[str, Query(max_length=160)] = "") -> HTMLResponse:
    """Show how a failure is staged on real kit and which trials show it; without one, what there is to choose from."""
    reasoning, weapon = cases_of(request).reasoning, weapon_of(request, word)
    setup = reasoning.setup(weapon.name)
    values: dict[str, object] = {"setup": setup, "weapon": weapon.name, "word": weapon.word, "sides": SIDES}
    if not failure:
        groups: dict[str, list[Stageable]] = {}
        for each in ways_of(setup):
            groups.setdefault(each.failure.item, []).append(each)
        return render(request, "practice/exercise_list.html", **values, groups=groups)  # type: ignore[arg-type]
    made = bench_exercise(reasoning, weapon.name, failure)
    if not isinstance(made, BenchExercise):
        return render(request, "practice/exercise_refused.html", **values, made=made)  # type: ignore[arg-type]
    values["drawing"] = drawn(part_svg(setup, made.failure.part, Marks(chosen=made.failure.part)))
    values["hide"] = f"/practice/trainer/{weapon.word}?" + urlencode({"failure": made.failure.id})
    return render(request, "practice/exercise.html", **values, made=made)  # type: ignore[arg-type]
