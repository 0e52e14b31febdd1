"""Requests of whoever teaches in; out, groups with their codes, the series set for them, and who is stuck where.

Who may is in the table of roles, as for the register: whoever works or manages, or anybody as long as nobody has a login.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

from fastapi import APIRouter, Form, Path, Request
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import InputError
from foible.practice import subjects
from foible.services.practice.drills import drilled_weapons
from foible.services.practice.groups import drill_task, page_task
from foible.web.lanes import looks_up
from foible.web.practice.learner import groups_of
from foible.web.register.asking import Checked, Number, Short, Token, day_in, who
from foible.web.shared import cases_of, in_address, qr_code, redirect, render

if TYPE_CHECKING:
    from collections.abc import Iterator

    from foible.kit import Weapon
    from foible.services.practice.groups import Task

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice/groups")
Code = Annotated[str, Path(max_length=20)]
OFFERED = 4
"""Drills that one form of a series has room for."""


class SeriesForm(BaseModel):
    """A series as it is set."""

    title: Short = ""
    due: Short = ""
    token: Token = ""
    idea: list[Short] = Field([], max_length=OFFERED)
    weapon: list[Short] = Field([], max_length=OFFERED)
    count: list[Short] = Field([], max_length=OFFERED)
    links: Annotated[str, Field(max_length=4000)] = ""
    """Addresses of lessons and hidden faults, one a line."""


@router.get("")
@looks_up
def groups(request: Request) -> HTMLResponse:
    """Show every group."""
    return render(request, "practice/groups.html", groups=groups_of(request).all())


@router.post("", dependencies=[Checked])
@looks_up
def group_made(request: Request, name: Annotated[Short, Form()] = "", token: Annotated[Token, Form()] = "") -> Response:
    """Make a group."""
    group = groups_of(request).make(name, by=who(request), token=token or None)
    return redirect(request, f"/practice/groups/{group.code}")


@router.get("/{code}")
@looks_up
def group(request: Request, code: Code) -> HTMLResponse:
    """Show a group: its code, who is stuck where, and its series."""
    with in_address():
        view = groups_of(request).view(code)
    link = f"{str(request.base_url).rstrip('/')}/practice/join/{view.group.code}"
    weapons = drilled_weapons(cases_of(request).reasoning)
    values = {"view": view, "link": link, "code": qr_code(link), "ideas": subjects(), "weapons": weapons, "offered": OFFERED}
    return render(request, "practice/group.html", **values)  # type: ignore[arg-type]


@router.post("/{code}/close", dependencies=[Checked])
@looks_up
def group_closed(request: Request, code: Code, closed: Annotated[Short, Form()] = "yes") -> Response:
    """Close a group to newcomers, or open it again."""
    with in_address():
        groups_of(request).close(code, closed=closed == "yes", by=who(request))
    return redirect(request, f"/practice/groups/{code}")


@router.post("/{code}/learners/{number}/remove", dependencies=[Checked])
@looks_up
def learner_removed(request: Request, code: Code, number: Number) -> Response:
    """Take a learner out of a group, and forget their name."""
    with in_address():
        groups_of(request).remove(code, number, by=who(request))
    return redirect(request, f"/practice/groups/{code}")


@router.post("/{code}/series", dependencies=[Checked])
@looks_up
def series_set(request: Request, code: Code, told: Annotated[SeriesForm, Form()]) -> Response:
    """Set a series for a group."""
    weapons = {each.word: each for each in drilled_weapons(cases_of(request).reasoning)}
    tasks = [*_drills(told, weapons), *(page_task(line, [*weapons.values()]) for line in told.links.split())]
    due = day_in(told.due, "the day")
    with in_address():
        groups_of(request).one(code)
    groups_of(request).set(code, told.title, tasks, due, by=who(request), token=told.token or None)
    return redirect(request, f"/practice/groups/{code}")


@router.post("/{code}/series/{number}/end", dependencies=[Checked])
@looks_up
def series_ended(request: Request, code: Code, number: Number) -> Response:
    """End a series."""
    with in_address():
        groups_of(request).end(code, number, by=who(request))
    return redirect(request, f"/practice/groups/{code}")


def _drills(told: SeriesForm, weapons: dict[str, Weapon]) -> Iterator[Task]:
    """Yield the drills of a form. Raises InputError and UnknownNameError."""
    for idea, word, count in zip(told.idea, told.weapon, told.count, strict=False):
        if not idea:
            continue
        if word not in weapons or not count.strip().isdecimal():
            raise InputError(seen=f"“{count[:20]}” drills at “{word[:20]}”", remedy="give a weapon and how many")
        yield drill_task(weapons[word], idea, int(count))
