"""Which role each page of the register, and of a taught group, takes: one table, one dependency that asks it.

What is not in the table takes `manage`.

As long as nobody has a login, everybody who is in may do everything. From the first login on, every device that has joined looks
at the register, and whoever changes something has signed in. Cases at the piste ask nobody: nobody signs in with a bout stopped.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from fastapi import Request  # noqa: TC002 — FastAPI reads the annotations
from starlette.exceptions import HTTPException

from foible.records.people import Role
from foible.web.failures import ForbiddenError
from foible.web.register.signed_in import people_of, person_of

if TYPE_CHECKING:
    from collections.abc import Iterable

__all__ = ["NEEDS", "demand", "demand_for", "may", "permitted"]

NEEDS: dict[str, Role] = {
    name: role
    for role, names in {
        Role.LOOK: """
            GET /register, GET /register/found, GET /i/{code}, GET /register/queue, GET /register/jobs/{number},
            GET /register/items/{code}, GET /register/items/{code}/photos/{number},
            GET /api/register/items/{code}/photos/{number},
            GET /register/parts, GET /register/parts/{code}, GET /register/people,
            GET /register/people/{number}, GET /register/trail, GET /api/register/people, GET /api/register/trail,
            GET /api/register/items, GET /api/register/items/{code}, GET /api/register/queue,
            GET /api/register/jobs/{number}, GET /api/register/parts, GET /api/register/parts/{code}, GET /api/register/orders,
            POST /api/register/sign-in, POST /api/register/sign-out,
            GET /register/learned, GET /register/learned/cases/{name},
            GET /register/learned/items/{code}, GET /register/season, GET /register/season.pdf,
            GET /api/register/learned, GET /api/register/season, GET /register/labels, GET /register/labels.pdf,
            GET /register/jobs/{number}/receipt.pdf, GET /register/order-list, GET /register/order-list.csv,
            GET /register/order-list.pdf, GET /sign-in, POST /sign-in, POST /sign-in/secret, POST /sign-out,
            GET /control, GET /control/{number:int}, GET /control/{number:int}/fencers, GET /control/{number:int}/found,
            GET /control/{number:int}/fencers/{entrant}, GET /control/{number:int}/room, GET /control/{number:int}/setup,
            GET /control/{number:int}/items/{item}, GET /control/{number:int}/rejects, GET /control/{number:int}/rejects/{form},
            GET /control/{number:int}/rejects/{form}/form.pdf, GET /control/{number:int}/stations/{station},
            GET /control/{number:int}/tally, GET /control/{number:int}/tally.pdf, GET /control/{number:int}/tally.csv,
            GET /control/{number:int}/queue, GET /control/{number:int}/order, GET /control/plan,
            GET /api/control/{number}/queue, GET /api/control/{number}/order, GET /api/control/plan,
            GET /control/morning, GET /control/morning.pdf, GET /control/sheets, GET /control/sheets/{name},
            GET /control/sheets/{name}/empty.pdf, GET /control/sheets/kept/{number:int},
            GET /control/sheets/kept/{number:int}/sheet.pdf, GET /control/maps/{code},
            GET /control/season, GET /control/season.pdf, GET /control/season.csv,
            GET /api/control, GET /api/control/{number}, GET /api/control/{number}/tally, GET /api/control/{number}/items,
            GET /api/control/{number}/items/{item}""",
        Role.WORK: """
            GET /register/items/new, POST /register/items, GET /register/items/{code}/edit, POST /register/items/{code},
            POST /register/items/{code}/loan, POST /register/items/{code}/back, POST /register/items/{code}/readings,
            POST /register/items/{code}/photos, POST /register/items/{code}/photos/{number}/remove,
            POST /api/register/items/{code}/photos, POST /api/register/items/{code}/photos/{number}/remove,
            POST /register/items/{code}/case, POST /register/queue/next, POST /register/jobs, POST /register/jobs/{number},
            POST /register/jobs/{number}/lines/{line}/back, GET /register/from-case/{name}, POST /register/from-case/{name},
            POST /register/parts, POST /register/parts/{code}, POST /register/parts/{code}/count,
            POST /register/parts/{code}/in,
            POST /api/register/items, POST /api/register/items/{code}, POST /api/register/items/{code}/loan,
            POST /api/register/items/{code}/back, POST /api/register/items/{code}/readings, POST /api/register/queue/next,
            POST /api/register/jobs, POST /api/register/jobs/{number}, POST /api/register/jobs/{number}/lines/{line}/back,
            POST /api/register/parts, POST /api/register/parts/{code}, POST /api/register/parts/{code}/count,
            POST /api/register/parts/{code}/in,
            GET /practice/groups, POST /practice/groups, GET /practice/groups/{code}, POST /practice/groups/{code}/close,
            POST /practice/groups/{code}/learners/{number}/remove, POST /practice/groups/{code}/series,
            POST /practice/groups/{code}/series/{number}/end,
            POST /control/sheets/{name}, POST /control/maps/{code},
            POST /control/{number:int}/stations, POST /control/{number:int}/stations/{station}/close,
            POST /control/{number:int}/fencers, POST /control/{number:int}/fencers/{entrant},
            POST /control/{number:int}/items/{item},
            POST /control/{number:int}/items/{item}/decided, POST /control/{number:int}/items/{item}/chosen,
            POST /control/{number:int}/items/{item}/mark, POST /control/{number:int}/items/{item}/back,
            POST /control/{number:int}/items/{item}/kept, POST /control/{number:int}/items/{item}/again,
            POST /control/{number:int}/items/{item}/step, POST /control/{number:int}/rejects/{form}/job,
            GET /control/{number:int}/fencers/{entrant}/sheet.pdf, GET /control/{number:int}/fencers/{entrant}/sheet.csv,
            POST /api/control/{number}/fencers, POST /api/control/{number}/fencers/{entrant}/items,
            POST /api/control/{number}/items/{item}""",
        Role.MANAGE: """
            POST /control, POST /control/{number:int}/setup, POST /control/{number:int}/instruments,
            GET /control/{number:int}/import, POST /control/{number:int}/import, POST /api/control,
            POST /register/learned, GET /register/import, POST /register/import, GET /register/import/{ref},
            GET /register/import/{ref}/progress, POST /register/import/{ref}, GET /register/export, GET /register/export.zip,
            GET /register/export.json, POST /register/people, POST /register/people/{number}, POST /register/people/{number}/open,
            POST /register/people/{number}/erase, GET /register/people/{number}/export, GET /api/register/people/{number},
            POST /api/register/people, POST /api/register/people/{number}, POST /api/register/people/{number}/open,
            POST /api/register/people/{number}/erase, POST /api/register/import/trial, POST /api/register/import,
            GET /api/register/export""",
    }.items()
    for name in " ".join(names.split()).split(", ")
}
"""The least role by method and route. `look` is for every device that has joined, without signing in."""
ONLY_A_MANAGER = {"price": "prices", "retired": "the retirement of items"}
"""Fields of a form that take more than the form itself."""


def permitted(request: Request) -> None:
    """Let a request of the register pass. Raises ForbiddenError, and an HTTPException that leads to the page to sign in."""
    demand(request, NEEDS.get(f"{request.method} {request.scope['route'].path}", Role.MANAGE))


def may(request: Request, needed: Role) -> bool:
    """Return whether whoever asks may do what takes a role."""
    person = person_of(request)
    if person is not None and person.role is not None:
        return person.role.covers(needed)
    if not hasattr(request.state, "is_open"):  # asked once a request: a page asks for several roles
        request.state.is_open = people_of(request).is_open()
    return bool(request.state.is_open)


def demand(request: Request, needed: Role) -> None:
    """Refuse whoever does not have a role; every device may look. Raises as `permitted`."""
    if needed is Role.LOOK or may(request, needed):
        return
    person = person_of(request)
    if person is not None:
        remedy = f"it takes the role “{needed.value}”, which a manager gives"
        raise ForbiddenError(
            seen=f"{person.name} may {person.role.value if person.role else 'look'} here, not more", remedy=remedy
        )
    seen = "nobody has signed in on this device"
    if request.method == "GET" and not request.url.path.startswith("/api"):
        here = quote(str(request.url.replace(scheme="", netloc="")), safe="/")
        raise HTTPException(303, seen, {"Location": f"/sign-in?to={here}"})
    raise ForbiddenError(seen=seen, remedy="sign in on the page /sign-in in another tab, then send this again")


def demand_for(request: Request, changed: Iterable[str]) -> None:
    """Refuse a form in which somebody without the role `manage` changes what takes it. Raises ForbiddenError."""
    kept = [words for field, words in ONLY_A_MANAGER.items() if field in changed]
    if kept and not may(request, Role.MANAGE):
        seen = f"{' and '.join(kept)} take the role “manage”"
        raise ForbiddenError(seen=seen, remedy="leave that as it was and send the rest again, or ask a manager")
