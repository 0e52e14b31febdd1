"""Requests for lessons in; out, their contents, one screen for each step and each question, and what an answer comes to."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Annotated
from urllib.parse import quote

from fastapi import APIRouter, Depends, Form, Query, Request
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import NotFoundError
from foible.kit import SIDES
from foible.practice import lamp_meanings, measured_words, subjects, worked
from foible.practice.lessons import LessonStep, Question
from foible.services.practice.lessons import lesson_after, lesson_of, lessons_listed, result_of
from foible.trials import described
from foible.web.lanes import reasons
from foible.web.practice.learner import noted, shelves_of
from foible.web.practice.lesson_pictures import answer_picture, answered, asked_picture, bulbs, has_cut, step_picture
from foible.web.security import check_form
from foible.web.shared import cases_of, drawn, in_address, redirect, render, weapon_of

if TYPE_CHECKING:
    from foible.practice.lessons import Lesson, Marked

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice/lessons")
LONGEST_S = 3600.0
"""Time that an answer is taken to have needed at most: who comes back after dinner has not thought all that while [s]."""
Numbers = Annotated[str, Query(max_length=20, pattern=r"^[0-9]?(,[0-9])*$")]


@router.get("")
@reasons
def contents(request: Request) -> HTMLResponse:
    """Show every lesson by weapon and idea, and those of a kit folder that cannot be shown with what is wrong."""
    reasoning = cases_of(request).reasoning
    wrong = [each for each in lessons_listed(reasoning) if each.problems]
    ideas = {each.name: each for each in subjects()}
    return render(request, "practice/lessons.html", ideas=ideas, wrong=wrong, **shelves_of(request).values)  # type: ignore[arg-type]


@router.get("/{word}/{name}")
@reasons
def first_screen(request: Request, word: str, name: str) -> HTMLResponse:
    """Show where a lesson begins."""
    return _screen(request, _lesson(request, word, name), 0)


@router.get("/{word}/{name}/{screen}")
@reasons
def one_screen(
    request: Request,
    word: str,
    name: str,
    screen: str,
    taken: Numbers = "",
    touched: Annotated[int | None, Query(ge=0, le=8)] = None,
) -> HTMLResponse:
    """Show a step or a question; `taken` are the choices that were taken, `touched` is one touched in the picture."""
    lesson = _lesson(request, word, name)
    return _screen(request, lesson, _number(lesson, screen), [int(each) for each in taken.split(",") if each], touched)


class Taken(BaseModel):
    """The form of an answer."""

    taken: Annotated[list[Annotated[int, Field(ge=0, le=8)]], Field(max_length=8)] = Field(default_factory=list)
    since: float = 0.0
    """When the question was shown, as the server's clock had it [s since 1970]."""
    token: Annotated[str, Field(max_length=40)] = ""


@router.post("/{word}/{name}/{screen}", dependencies=[Depends(check_form)])
@reasons
def answer(request: Request, word: str, name: str, screen: str, told: Annotated[Taken, Form()]) -> Response:
    """Mark an answer, note what it has shown, and show what it comes to."""
    lesson = _lesson(request, word, name)
    question = lesson.screens[_number(lesson, screen)]
    here = f"{_base(lesson)}/{quote(screen)}"
    if not isinstance(question, Question) or not told.taken:
        return redirect(request, here)
    marked = _marked(question, told.taken)
    seconds = min(max(time.time() - told.since, 0.0), LONGEST_S)
    noted(request, result_of(lesson, question, marked, seconds), token=told.token or None)
    numbers = ",".join(str(each) for each in sorted(set(told.taken)))
    return redirect(request, f"{here}?taken={numbers}#answered")


def _lesson(request: Request, word: str, name: str) -> Lesson:
    weapon = weapon_of(request, word)
    with in_address():
        return lesson_of(cases_of(request).reasoning, weapon.name, name)


def _number(lesson: Lesson, screen: str) -> int:
    """Return the place of a screen. Raises NotFoundError."""
    names = [each.name for each in lesson.screens]
    if screen not in names:
        raise NotFoundError(what="screen of this lesson", name=screen, known=names, all_named=True)
    return names.index(screen)


def _marked(question: Question, taken: list[int]) -> Marked:
    """Return what an answer comes to. Raises NotFoundError for a choice that there is not."""
    if max(taken) >= len(question.choices):
        known = [str(number) for number in range(len(question.choices))]
        raise NotFoundError(what="choice", name=str(max(taken)), known=known, all_named=True)
    return question.marked(taken)


def _base(lesson: Lesson) -> str:
    return f"/practice/lessons/{lesson.setup.kind.word}/{lesson.name}"


def _screen(
    request: Request, lesson: Lesson, number: int, taken: list[int] | None = None, touched: int | None = None
) -> HTMLResponse:
    screens, base, weapon = lesson.screens, _base(lesson), lesson.setup.kind
    after = lesson_after(cases_of(request).reasoning, lesson) if number + 1 == len(screens) else None
    frame = {
        "lesson": lesson,
        "base": base,
        "number": number,
        "back": f"{base}/{screens[number - 1].name}" if number else "",
        "onward": f"{base}/{screens[number + 1].name}" if number + 1 < len(screens) else "",
        "after": after,
        "after_address": f"/practice/lessons/{weapon.word}/{after.name}" if after else "",
        "sides": SIDES,
    }
    screen = screens[number]
    if isinstance(screen, LessonStep):
        return render(request, "practice/lesson_step.html", 200, **frame, **_step(lesson, screen))
    return render(
        request, "practice/lesson_question.html", 200, **frame, **_question(screen, taken or [], touched, f"{base}/{screen.name}")
    )


def _step(lesson: Lesson, step: LessonStep) -> dict[str, object]:
    """Return what the template of a step shows."""
    shown = worked(lesson.setup, step.walk) if step.walk else None
    tools = step.situation is not None and (step.situation.trial.meter or step.situation.trial.box or step.situation.trial.gauge)
    return {
        "step": step,
        "shown": shown,
        "chances": shown.lamps if shown else bulbs(step.situation) if step.situation and not tools else None,
        "meanings": lamp_meanings(lesson.setup.kind) if step.table.meanings else (),
        "asked": measured_words(lesson.setup.kind.measurement(step.table.circuit)) if step.table.circuit else "",
        "picture": drawn(step_picture(lesson.setup, step, shown)),
    }


def _question(question: Question, taken: list[int], touched: int | None, address: str) -> dict[str, object]:
    """Return what the template of a question shows, before and after it is answered."""
    marked = _marked(question, taken) if taken else None
    situation = answered(question, marked) if marked else question.situation
    trial = situation.trial
    tells = question.marker.tells_fault or marked
    looked = not (trial.meter or trial.box or trial.gauge)
    seen = question.marker.seen()
    picture = answer_picture(question, situation) if marked else asked_picture(question, touched, f"{address}?touched=")
    return {
        "question": question,
        "marked": marked,
        "taken": taken,
        "touched": touched if touched is not None and touched < len(question.choices) else None,
        "done": described(trial) if trial.unseen() != type(trial)() else "",
        "failed": [each.id for each in situation.failures] if tells else [],
        "told": question.marker.tells_fault,
        "cut": marked is not None and has_cut(situation),
        "seen": seen,
        "chances": bulbs(situation) if looked and (seen or marked) and question.table.kind != "brings" else None,
        "picture": drawn(picture),
        "now": f"{time.time():.1f}",
    }
