"""What every page of the control table needs: forms read into plain values, and what its templates show."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import Path as InPath

from foible.errors import InputError
from foible.records.control import competition_by_id
from foible.records.people import Role
from foible.services.control.testing import kind_words
from foible.web.register.asking import register_of
from foible.web.register.permitted import may
from foible.web.register.signed_in import person_of
from foible.web.shared import in_address, render, settings_of

if TYPE_CHECKING:
    from pathlib import Path

    from fastapi import Request
    from starlette.responses import HTMLResponse

    from foible.records.control import Competition

__all__ = ["Number", "began_in", "competition_of", "overlays_of", "pdf_named", "register_of", "show"]

Number = Annotated[int, InPath(ge=1, le=2**31 - 1)]
LONGEST_S = 3600
"""A page that was open for longer was left lying: its time says nothing of how long a test takes [s]."""
WITHIN = {
    "": "table",
    "/fencers": "fencers",
    "/room": "in the room",
    "/rejects": "reject forms",
    "/queue": "queue",
    "/order": "order of tests",
    "/tally": "figures",
    "/setup": "set up",
}
"""The sections of a competition by the end of their addresses."""


def overlays_of(request: Request) -> tuple[Path, ...]:
    """Return the files of own rules."""
    return settings_of(request).rules


def competition_of(request: Request, number: int) -> Competition:
    """Return a competition that an address names. Raises NotFoundError."""
    with in_address():
        return register_of(request).read(lambda session: competition_by_id(session, number))


def show(request: Request, template: str, competition: Competition | None, status: int = 200, **values: Any) -> HTMLResponse:  # noqa: ANN401
    """Return a page of the control table; those of a competition have its sections above them."""
    within = {f"/control/{competition.id}{end}": words for end, words in WITHIN.items()} if competition else {}
    known: dict[str, Any] = {"kind_words": kind_words, "competition": competition, "within": within, "person": person_of(request)}
    known["may_work"], known["may_manage"] = may(request, Role.WORK), may(request, Role.MANAGE)
    return render(request, f"control/{template}", status, **known | values)


def began_in(request: Request, text: str) -> datetime:
    """Return when a form was shown, as it says itself; now where it lay about. Raises InputError."""
    now = register_of(request).clock()
    try:
        began = datetime.fromtimestamp(float(text), UTC) if text.strip() else now
    except (ValueError, OverflowError, OSError) as error:
        raise InputError(seen=f"the form was shown at “{text[:30]}”", remedy="reload the page and send it again") from error
    return began if 0 <= (now - began).total_seconds() <= LONGEST_S else now


def pdf_named(name: str) -> dict[str, str]:
    """Return the head of an answer that is a PDF."""
    return {"Content-Disposition": f'inline; filename="{name}.pdf"'}
