"""People and the trail as JSON, and signing in for programs, as the pages do it. docs/json.md describes the keys."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Query, Request

from foible.records.people import NewPerson, Role
from foible.services.register.people import role_named
from foible.web.lanes import looks_up
from foible.web.register.bodies import (
    EraseBody,
    Number,
    PersonBody,
    PersonChanges,
    SignInBody,
    said,
    value_json,
)
from foible.web.register.permitted import may
from foible.web.register.signed_in import first_login, forget, guessing, people_of, person_of, remember, who
from foible.web.shared import in_address

if TYPE_CHECKING:
    from foible.records.people import Person

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/api/register")
LISTED = 100
FARTHEST = 1_000_000
OF_WORK = ("contact",)
OF_MANAGEMENT = ("login", "role", "locked")


@router.post("/sign-in")
@looks_up
def sign_in(request: Request, body: SignInBody) -> dict[str, Any]:
    """Sign somebody in, whom the cookie of the answer then stands for; an address that guesses has to wait."""
    with guessing(request):
        known = people_of(request).sign_in(body.login, body.secret, by=who(request))
    remember(request, known)
    return _told(request, known.person)


@router.post("/sign-out")
@looks_up
def sign_out(request: Request) -> None:
    """Sign out whoever the cookie stands for."""
    forget(request)


@router.get("/people")
@looks_up
def people(
    request: Request, words: Annotated[str, Query(max_length=200)] = "", offset: Annotated[int, Query(ge=0, le=FARTHEST)] = 0
) -> list[dict[str, Any]]:
    """List people and clubs; how to reach them only for those who work here, logins for those who manage."""
    return [_told(request, person) for person in people_of(request).found(words, limit=LISTED, offset=offset)]


@router.post("/people", status_code=201)
@looks_up
def person_added(request: Request, body: PersonBody) -> dict[str, Any]:
    """Add a person or a club; one with a login needs a role and a secret."""
    first = first_login(request, body.login)
    new = NewPerson(body.name, body.kind, body.club, body.contact, body.login or None, role_named(body.role), token=body.token)
    person = people_of(request).add(new, body.secret, by=who(request))
    _signed(request, person, first=first)
    return _told(request, person)


@router.get("/people/{number}")
@looks_up
def person_whole(request: Request, number: Number) -> dict[str, Any]:
    """Return everything that refers to a person."""
    with in_address():
        return people_of(request).export(number)


@router.post("/people/{number}")
@looks_up
def person_changed(request: Request, number: Number, body: PersonChanges) -> dict[str, Any]:
    """Change what is kept of a person; 409 with both where somebody else has changed it since `version`."""
    first, own = first_login(request, body.login), person_of(request)
    wanted = said(body, "secret")
    if "role" in wanted:
        wanted["role"] = role_named(body.role)
    with in_address():
        people_of(request).person(number)
    person = people_of(request).revise(number, wanted, body.secret, version=body.version, by=who(request))
    _signed(request, person, first=first or (own is not None and own.id == person.id))
    return _told(request, person)


@router.post("/people/{number}/open")
@looks_up
def person_opened(request: Request, number: Number) -> dict[str, Any]:
    """Open a login that wrong tries have locked."""
    with in_address():
        return _told(request, people_of(request).unlock(number, by=who(request)))


@router.post("/people/{number}/erase")
@looks_up
def person_erased(request: Request, number: Number, _: EraseBody) -> list[dict[str, Any]]:
    """Erase who somebody is, for good, and list the texts in which their name was written."""
    with in_address():
        return [value_json(each) for each in people_of(request).erase(number, by=who(request))]


def _signed(request: Request, person: Person, *, first: bool) -> None:
    """Sign in whoever has just made themselves manager, or changed their own secret."""
    if first and (known := people_of(request).known(person.id)):
        remember(request, known)


def _told(request: Request, person: Person) -> dict[str, Any]:
    hidden = () if may(request, Role.MANAGE) else OF_MANAGEMENT if may(request, Role.WORK) else (*OF_WORK, *OF_MANAGEMENT)
    return {key: value for key, value in value_json(person).items() if key not in hidden}
