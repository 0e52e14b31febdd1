"""Requests about people and clubs in, pages out: who owns kit, who signs in, who may do what, who is erased."""

from __future__ import annotations

import json
from typing import Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from pydantic import BaseModel
from starlette.responses import HTMLResponse, Response

from foible.errors import ClashError, InputError
from foible.records.people import NewPerson, Role
from foible.services.register.people import role_named
from foible.web.lanes import looks_up
from foible.web.register.asking import Checked, Number, Short, Token, show, version_in
from foible.web.register.permitted import may
from foible.web.register.signed_in import first_login, people_of, person_of, remember, who
from foible.web.shared import in_address, redirect

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
ROLES = {
    Role.LOOK: "look at the register",
    Role.WORK: "work: register, mend, count, lend",
    Role.MANAGE: "manage: people, prices, retiring, import",
}
LISTED = 100
FARTHEST = 1_000_000


class PersonForm(BaseModel):
    """What is said of a person."""

    name: Short = ""
    kind: Short = "person"
    club: Short = ""
    contact: Short = ""
    login: Short = ""
    role: Short = ""
    secret: Short = ""
    version: Short = ""
    token: Token = ""


@router.get("/register/people")
@looks_up
def people_page(request: Request, words: Annotated[str, Query(max_length=200)] = "") -> HTMLResponse:
    """Show people and clubs, by name."""
    found = people_of(request).found(words, limit=LISTED + 1)
    return _list(request, words=words, found=found[:LISTED], more=len(found) > LISTED)


@router.post("/register/people", dependencies=[Checked])
@looks_up
def person_added(request: Request, told: Annotated[PersonForm, Form()]) -> Response:
    """Add a person or a club. The first who signs in is made on the machine itself."""
    people = people_of(request)
    first = first_login(request, told.login)
    new = NewPerson(
        told.name, told.kind, told.club, told.contact, told.login or None, role_named(told.role), token=told.token or None
    )
    person = people.add(new, told.secret, by=who(request))
    if first and (known := people.known(person.id)):
        remember(request, known)  # or whoever has just made themselves manager would have to sign in at once
    return redirect(request, f"/register/people/{person.id}")


@router.get("/register/people/{number}")
@looks_up
def person_page(request: Request, number: Number) -> HTMLResponse:
    """Show a person."""
    with in_address():
        return _one(request, number)


@router.post("/register/people/{number}", dependencies=[Checked])
@looks_up
def person_changed(request: Request, number: Number, told: Annotated[PersonForm, Form()]) -> Response:
    """Change what is said of a person; where somebody else has, both are shown."""
    people, version, first = people_of(request), version_in(told.version), first_login(request, told.login)
    wanted: dict[str, Any] = {"name": told.name, "club": told.club, "contact": told.contact}
    wanted |= {"login": told.login, "role": role_named(told.role)}
    own = person_of(request)
    try:
        changed = people.revise(number, wanted, told.secret, version=version, by=who(request))
    except ClashError as clash:
        return _one(request, number, told, clash)
    if (known := people.known(changed.id)) and (first or (own and own.id == changed.id)):
        remember(request, known)
    return redirect(request, f"/register/people/{number}")


@router.post("/register/people/{number}/open", dependencies=[Checked])
@looks_up
def person_opened(request: Request, number: Number) -> Response:
    """Open a login that wrong tries have locked."""
    people_of(request).unlock(number, by=who(request))
    return redirect(request, f"/register/people/{number}")


@router.post("/register/people/{number}/erase", dependencies=[Checked])
@looks_up
def person_erased(request: Request, number: Number, sure: Annotated[Short, Form()] = "") -> HTMLResponse:
    """Erase who somebody is, and show where else their name was written."""
    if sure != "yes":
        raise InputError(seen="nobody has said that they are sure", remedy="go back and tick that this is to be for good")
    found = people_of(request).erase(number, by=who(request))
    return _one(request, number, mentions=found)


@router.get("/register/people/{number}/export")
@looks_up
def person_exported(request: Request, number: Number) -> Response:
    """Hand out everything that refers to a person, as a file."""
    with in_address():
        kept = people_of(request).export(number)
    body = json.dumps(kept, ensure_ascii=False, indent=2)
    headers = {"Content-Disposition": f'attachment; filename="foible-person-{number}.json"'}
    return Response(body, media_type="application/json", headers=headers)


def _list(request: Request, **values: Any) -> HTMLResponse:  # noqa: ANN401 — whatever the template shows
    return show(request, "people.html", **values, **_rights(request), told=PersonForm())


def _one(
    request: Request,
    number: int,
    told: PersonForm | None = None,
    clash: ClashError | None = None,
    mentions: Any = None,  # noqa: ANN401
) -> HTMLResponse:
    one = people_of(request).person(number)
    fields = told or PersonForm(
        name=one.name, kind=one.kind, club=one.club, contact=one.contact, login=one.login or "", role=one.role or ""
    )
    values = {"one": one, "told": fields, "clash": clash, "mentions": mentions}
    return show(request, "person.html", 409 if clash else 200, **values, **_rights(request))


def _rights(request: Request) -> dict[str, Any]:
    manages, works = may(request, Role.MANAGE), may(request, Role.WORK)
    return {"manages": manages, "works": works, "roles": ROLES, "is_open": people_of(request).is_open()}
