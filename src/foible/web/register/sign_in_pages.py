"""Requests to sign in and out in, pages out."""

from __future__ import annotations

import re
from typing import Annotated

from fastapi import APIRouter, Form, Query, Request
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import InputError
from foible.services.register.people import SignInError
from foible.web.failures import ForbiddenError, TooSoonError
from foible.web.lanes import looks_up
from foible.web.register.asking import Checked, Short, show
from foible.web.register.signed_in import forget, guessing, people_of, person_of, remember, who
from foible.web.shared import redirect

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
OURS = re.compile(r"/(register|i)([/?][\w\-./?=&%+]*)?")
"""Addresses that somebody who has signed in is led back to: pages of the register, never another site's."""
START = "/register"


@router.get("/sign-in")
@looks_up
def sign_in(request: Request, to: Annotated[str, Query(max_length=500)] = START) -> HTMLResponse:
    """Ask who wants to change something, or show who has signed in."""
    return _page(request, to)


@router.post("/sign-in", dependencies=[Checked])
@looks_up
def signed_in(
    request: Request,
    login: Annotated[Short, Form()] = "",
    secret: Annotated[Short, Form()] = "",
    to: Annotated[Short, Form()] = START,
) -> Response:
    """Sign somebody in who knows their PIN or passphrase; an address that guesses has to wait."""
    try:
        with guessing(request):
            known = people_of(request).sign_in(login, secret, by=who(request))
    except SignInError as error:
        return _page(request, to, error, login)
    remember(request, known)
    return redirect(request, _safe(to))


@router.post("/sign-in/secret", dependencies=[Checked])
@looks_up
def other_secret(request: Request, secret: Annotated[Short, Form()] = "", new: Annotated[Short, Form()] = "") -> Response:
    """Have somebody who has signed in choose another PIN or passphrase; elsewhere they have to sign in again."""
    person = person_of(request)
    if person is None:
        raise ForbiddenError(seen="nobody has signed in on this device", remedy="sign in first")
    try:
        with guessing(request):
            known = people_of(request).change_own_secret(person, secret, new, by=who(request))
    except TooSoonError:
        raise
    except InputError as error:
        return _page(request, START, error)
    remember(request, known)
    return redirect(request, START)


@router.post("/sign-out", dependencies=[Checked])
@looks_up
def sign_out(request: Request) -> Response:
    """Sign out whoever has signed in on this device."""
    forget(request)
    return redirect(request, START)


def _safe(to: str) -> str:
    return to if OURS.fullmatch(to) else START


def _page(request: Request, to: str, error: InputError | None = None, login: str = "") -> HTMLResponse:
    status = error.http_status if error else 200
    return show(request, "sign_in.html", status, to=_safe(to), error=error, login=login, is_open=people_of(request).is_open())
