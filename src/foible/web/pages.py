"""Requests for pages outside any case in, the pages out: start, new case, field card, sharing, help."""

from __future__ import annotations

import asyncio
from functools import partial
from typing import TYPE_CHECKING, Annotated
from urllib.parse import unquote

from fastapi import APIRouter, Depends, Form, Query, Request
from pydantic import Field
from starlette.responses import HTMLResponse, Response

from foible.drawing import STYLE
from foible.facts import FACTS
from foible.records import CaseState
from foible.situation import TOOLS
from foible.web import what_if
from foible.web.devices import kind_of
from foible.web.failures import ForbiddenError, TooSoonError
from foible.web.lanes import looks_up, on_loop
from foible.web.last_time import last_weapon
from foible.web.search import FARTHEST, Search, Searched
from foible.web.security import check_form, is_here
from foible.web.shared import cases_of, priority_of, qr_code, redirect, render, settings_of, weapon_of

if TYPE_CHECKING:
    from concurrent.futures import Future

    from foible.output import Card

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
router.include_router(what_if.router)
Checked = Depends(check_form)
LISTED = 20
"""How many cases a page of results shows."""
OPEN, CLOSED = 10, 5
"""How many open and closed cases the start page shows, the most recently changed ones."""
STATES = {CaseState.ALL: "open or closed", CaseState.OPEN: "open", CaseState.CLOSED: "closed"}
Said = Annotated[str, Field(max_length=200)]
SHORTEST_CARD, LONGEST_CARD = 0.5, 15.0
"""Budgets that a field card is made for [min]."""


@router.get("/")
@looks_up
def home(
    request: Request,
    search: Searched,
    offset: Annotated[int, Query(ge=0, le=FARTHEST)] = 0,
) -> HTMLResponse:
    """Show the ways to begin and the open cases, or the results of a search."""
    store = cases_of(request).store
    looked = bool(request.query_params)
    wanted, limit = (search, LISTED) if looked else (Search(state=CaseState.OPEN), OPEN)
    closed = Search(state=CaseState.CLOSED)
    return render(
        request,
        "home.html",
        weapons=_weapons(request),
        looked=looked,
        search=search,
        states=STATES,
        last=last_weapon(request),
        found=wanted.stretch(store.heads(wanted.query, limit=limit, offset=offset), offset, limit),
        closed=None if looked else closed.stretch(store.heads(closed.query, limit=CLOSED), 0, CLOSED),
        all_closed=closed.address(),
    )


def _weapons(request: Request) -> dict[str, str]:
    """Return the names of the weapons by their words in addresses, the usual one first."""
    return {weapon.word: weapon.name for weapon in cases_of(request).reasoning.weapons()}


# --- the field card ---------------------------------------------------------------------------------------------------


@router.get("/card/{word}")
@on_loop
async def field_card(
    request: Request,
    word: str,
    tool: Annotated[list[str] | None, Query(max_length=20)] = None,
    fact: Annotated[list[str] | None, Query(max_length=20)] = None,
    minutes: Annotated[float, Query(ge=SHORTEST_CARD, le=LONGEST_CARD)] = 3.0,
    form: Annotated[str, Query(max_length=5)] = "",
) -> Response:
    """Show the field card of a weapon, or return it as a PDF."""
    kind = weapon_of(request, word)
    tools = tuple(name for name in TOOLS if name in (["spare"] if tool is None else tool))
    facts = tuple(name for name in FACTS if name in (fact or []))
    asked: Future[Card] = request.app.state.cards.ask(kind.name, tools, minutes, facts)
    if form == "pdf":
        from foible.output.card_pdf import card_pdf  # noqa: PLC0415 — drawing a PDF takes long to load

        name = f"field-card-{kind.word}.pdf"
        headers = {"Content-Disposition": f'inline; filename="{name}"'}
        drawn_up = await asyncio.shield(asyncio.wrap_future(asked))  # others may still be waiting for the same card
        pdf = await priority_of(request).reason(partial(card_pdf, drawn_up))
        return Response(pdf, media_type="application/pdf", headers=headers)
    card = asked.result() if asked.done() else None
    return render(
        request,
        "card.html",
        weapon=kind.name,
        word=kind.word,
        card=card,
        tools=tools,
        known=TOOLS,
        facts=facts,
        all_facts=FACTS,
        minutes=minutes,
    )


# --- joining and sharing ----------------------------------------------------------------------------------------------


@router.get("/join")
@on_loop
async def join(request: Request) -> HTMLResponse:
    """Ask a device for the passphrase."""
    return render(request, "join.html", wrong="")


@router.post("/join", dependencies=[Checked])
@looks_up
def joined(request: Request, passphrase: Annotated[str, Form(max_length=200)] = "") -> Response:
    """Let a device in that knows the passphrase."""
    passphrase_set = settings_of(request).passphrase
    guesses, address = settings_of(request).guesses, request.client.host if request.client else ""
    if passphrase_set is None:
        raise ForbiddenError(seen="this server is not shared", remedy="start it with `foible serve --share`")
    wait = guesses.wait(address)
    if wait > 0:
        raise TooSoonError(wait_s=wait)
    right = passphrase_set.opens(passphrase)
    if not right:
        return render(request, "join.html", 403, wrong="That is not the passphrase. It is shown on the machine that runs Foible.")
    guesses.right(address)
    kind, known = kind_of(request.headers.get("user-agent", "")), str(request.session.get("joined", ""))
    request.session["joined"] = settings_of(request).devices.join(kind, known)
    request.session["in"] = settings_of(request).ticket
    return redirect(request, "/")


@router.get("/share")
@looks_up
def share(request: Request) -> HTMLResponse:
    """Show how another device joins; only on the machine itself."""
    if not is_here(request.scope):
        raise ForbiddenError(seen="the passphrase is shown only on the machine that runs Foible", remedy="look there")
    settings = settings_of(request)
    join_at, certificate = settings.join, settings.certificate
    code = qr_code(join_at) if join_at else None
    address, _, words = join_at.partition("#")
    return render(
        request,
        "share.html",
        code=code,
        address=address,
        words=unquote(words),
        fingerprint=certificate.fingerprint if certificate and certificate.own else None,
        devices=settings.devices.all(),
        own=None,
    )


@router.get("/drawing.css")
@on_loop
async def drawing_style() -> Response:
    """Return the style of our drawings."""
    return Response(STYLE, media_type="text/css", headers={"Cache-Control": "public, max-age=31536000, immutable"})


@router.get("/help")
@looks_up
def help_page(request: Request) -> HTMLResponse:
    """Say how to use Foible, and what to take care with."""
    return render(request, "help.html", weapons=_weapons(request))


@router.get("/api")
@looks_up
def api_page(request: Request) -> HTMLResponse:
    """Describe the API, from its own description."""
    spec = request.app.openapi()
    return render(request, "api.html", spec=spec)
