"""Requests of somebody who practises in; out, what they know and what is due, their link for another device, their group."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Path, Query, Request
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.drawing import answers_svg
from foible.errors import InputError
from foible.services.practice.standing import WEEKS, next_of, weeks_of
from foible.web.lanes import looks_up
from foible.web.practice.learner import become, groups_of, learner_of, progress_of, shelves_of, standings_of
from foible.web.register.signed_in import person_of
from foible.web.security import check_form
from foible.web.shared import drawn, in_address, qr_code, redirect, render

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice")
Checked = Depends(check_form)
Code = Annotated[str, Path(max_length=20)]
Token = Annotated[str, Path(pattern=r"^[\w-]{10,40}$")]
Said = Annotated[str, Form(max_length=40)]


@router.get("/progress")
@looks_up
def progress(request: Request) -> HTMLResponse:
    """Show what whoever asks knows, what is due and what comes next."""
    now, learner, kept, found = datetime.now(UTC), learner_of(request), progress_of(request), standings_of(request)
    weapons = dict.fromkeys(each.weapon for each in found)
    weeks = weeks_of(kept.results(learner, now - timedelta(weeks=WEEKS)), now)
    link = f"{str(request.base_url).rstrip('/')}/practice/me/{learner}"
    values = {
        "found": [(weapon, [each for each in found if each.weapon == weapon]) for weapon in weapons],
        "next": next_of(found, shelves_of(request).taught),
        "weeks": weeks,
        "plot": drawn(answers_svg([(_ago(each.ago), each.right, each.wrong) for each in weeks], label=_told(weeks))),
        "link": link,
        "code": qr_code(link),
        "group": groups_of(request).of_learner(learner),
        "person": person_of(request),
        "began": any(each.memory for each in found),
    }
    return render(request, "practice/progress.html", **values)  # type: ignore[arg-type]


@router.get("/me/{token}")
@looks_up
def here_too(request: Request, token: Token) -> HTMLResponse:
    """Ask whether this device is to go on as the learner of a link."""
    return render(request, "practice/progress_here.html", token=token, known=progress_of(request).knows(token))


@router.post("/me/{token}", dependencies=[Checked])
@looks_up
def became(request: Request, token: Token) -> Response:
    """Go on as the learner of a link."""
    if not progress_of(request).knows(token):
        raise InputError(seen="nothing is kept under this link", remedy="open the link on the device where you have practised")
    if person_of(request) is not None:
        raise InputError(seen="somebody has signed in on this device", remedy="sign out first, or practise under that name")
    become(request, token)
    return redirect(request, "/practice/progress")


@router.get("/join")
@looks_up
def join(request: Request, code: Annotated[str, Query(max_length=20)] = "") -> Response:
    """Ask for the code of a group, or lead to the group of a code."""
    if code.strip():
        return redirect(request, f"/practice/join/{''.join(char for char in code if char.isalnum())}")
    return render(request, "practice/group_join.html", group=None)


@router.get("/join/{code}")
@looks_up
def join_which(request: Request, code: Code) -> HTMLResponse:
    """Ask under which name somebody joins a group."""
    with in_address():
        group = groups_of(request).one(code)
    return render(request, "practice/group_join.html", group=group)


@router.post("/join/{code}", dependencies=[Checked])
@looks_up
def joined(request: Request, code: Code, name: Said = "") -> Response:
    """Let whoever asks into a group."""
    groups_of(request).join(code, learner_of(request), name)
    return redirect(request, "/practice/progress")


@router.post("/leave", dependencies=[Checked])
@looks_up
def left(request: Request) -> Response:
    """Take whoever asks out of their group, and forget their name."""
    groups_of(request).leave(learner_of(request))
    return redirect(request, "/practice/progress")


def _ago(weeks: int) -> str:
    return "now" if weeks == 0 else f"−{weeks}"


def _told(weeks: tuple[object, ...]) -> str:
    return f"Answers in each of the last {len(weeks)} weeks, right ones and wrong ones; the table below says the same"
