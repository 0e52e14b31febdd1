"""Requests for pages outside any case in, the pages out: start, new case, what if, field card, sharing, help."""

from __future__ import annotations

import asyncio
import io
import secrets
from functools import partial
from typing import TYPE_CHECKING, Annotated, Any
from urllib.parse import unquote

import segno
from fastapi import APIRouter, Depends, Form, Query, Request
from pydantic import BaseModel, Field
from starlette.responses import HTMLResponse, Response

from foible.drawing import STYLE, Marks, strip_svg
from foible.errors import UnknownNameError
from foible.facts import FACTS
from foible.kit import SIDES
from foible.records import CaseState
from foible.services.cases import About
from foible.situation import TOOLS
from foible.web.failures import ForbiddenError, TooSoonError
from foible.web.lanes import looks_up, on_loop, reasons
from foible.web.last_time import last_place, last_weapon, remember_weapon
from foible.web.search import FARTHEST, Search, Searched
from foible.web.security import check_form, device, is_here
from foible.web.shared import cases_of, drawn, priority_of, redirect, render, settings_of, weapon_of

if TYPE_CHECKING:
    from concurrent.futures import Future

    from foible.diagnosis import Explanation
    from foible.kit import Failure, Setup
    from foible.output import Card
    from foible.trials import Idea

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
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
        weapons={weapon.word: weapon.name for weapon in cases_of(request).reasoning.weapons()},
        looked=looked,
        search=search,
        states=STATES,
        last=last_weapon(request),
        found=wanted.stretch(store.heads(wanted.query, limit=limit, offset=offset), offset, limit),
        closed=None if looked else closed.stretch(store.heads(closed.query, limit=CLOSED), 0, CLOSED),
        all_closed=closed.address(),
    )


@router.get("/new/{word}")
@looks_up
def new(request: Request, word: str) -> HTMLResponse:
    """Ask what the fencer complains of."""
    weapon = weapon_of(request, word).name
    said = [complaint.say for complaint in cases_of(request).complaints(weapon, SIDES[0])]
    last = last_place(request)
    return render(request, "new.html", weapon=weapon, word=word, complaints=said, sides=SIDES, last=last)


class Told(BaseModel):
    """The form of a new case: a complaint is the side’s button, with the fencer’s words."""

    left: Said = ""
    right: Said = ""
    say: Said = ""
    side: Annotated[str, Field(max_length=10)] = ""
    title: Annotated[str, Field(max_length=120)] = ""
    piste: Annotated[str, Field(max_length=40)] = ""
    fencer: Annotated[str, Field(max_length=80)] = ""
    as_last_time: bool = False
    token: Annotated[str, Field(max_length=40)] = ""

    @property
    def complaint(self) -> tuple[str, str]:
        """What is said, and by whom; ("", "") where nothing is."""
        if self.say:
            return self.say, self.side
        return next(((said, side) for side in SIDES if (said := getattr(self, side))), ("", ""))


@router.post("/new/{word}", dependencies=[Checked])
@looks_up
def begin(
    request: Request,
    word: str,
    told: Annotated[Told, Form()],
) -> Response:
    """Open a case, where the device worked last unless the form says otherwise."""
    cases, weapon = cases_of(request), weapon_of(request, word)
    say, side = told.complaint
    if say and side not in SIDES:
        raise UnknownNameError(what="side", name=side, known=SIDES)
    about, where = About(told.piste, told.fencer), last_place(request) if told.as_last_time else None
    if say:
        token = told.token or secrets.token_hex(8)
        kept = cases.open_complaint(
            weapon.name, say, side, title=told.title, token=token, by=device(request), about=about, where=where
        )
    else:
        kept = cases.open(weapon.name, title=told.title, token=told.token or None, about=about, where=where)
    remember_weapon(request, weapon.word)
    return redirect(request, f"/cases/{kept.id}")


# --- what if ----------------------------------------------------------------------------------------------------------


@router.get("/what-if/{word}")
@reasons
def what_if(
    request: Request,
    word: str,
    failure: Annotated[str, Query(max_length=160)] = "",
    second: Annotated[str, Query(max_length=160)] = "",
    trial: Annotated[str, Query(max_length=200)] = "",
    side: Annotated[str, Query(max_length=10)] = "",
) -> HTMLResponse:
    """Show which lamps light in a trial with one failure, or two, and the path of the current."""
    reasoning = cases_of(request).reasoning
    weapon = weapon_of(request, word).name
    setup = reasoning.setup(weapon)
    ideas = [idea for idea in reasoning.strip_ideas(weapon) if not idea.trial.examine]
    chosen = next((idea for idea in ideas if idea.say == trial), ideas[0])
    made = [(setup.failures[name], setup.failures[name].usual_ohms) for name in (failure, second) if name]
    shown = reasoning.shown(weapon, made, chosen)
    looked = side if side in SIDES else chosen.trial.arrangement.press or chosen.side or SIDES[0]
    return render(
        request,
        "what_if.html",
        weapon=weapon,
        word=word,
        setup=setup,
        groups=_grouped(setup),
        failure=failure,
        second=second,
        ideas=ideas,
        chosen=chosen,
        shown=shown,
        sound=reasoning.shown(weapon, [], chosen),
        side=looked,
        sides=SIDES,
        drawing=_drawing(setup, shown[looked], chosen, made, {name: each.lamps for name, each in shown.items()}),
    )


def _grouped(setup: Setup) -> dict[str, list[Failure]]:
    groups: dict[str, list[Failure]] = {}
    for failure in setup.failures.values():
        groups.setdefault(failure.item, []).append(failure)
    return groups


def _drawing(
    setup: Setup,
    shown: Explanation,
    idea: Idea,
    made: list[tuple[Failure, float]],
    lamps: Any,  # noqa: ANN401 — by side and lamp
) -> object:
    circuit = next((each for each in shown.circuits if each.way), None)
    marks = Marks(
        suspicion={name: 1.0 for failure, _ in made for name in (failure.part, failure.item)},
        way=circuit.way if circuit else (),
        cuts=circuit.cuts if circuit else (),
        trial=idea.trial,
        chosen=made[0][0].part if made else None,
        lamps=lamps,
        hidden=[item.id for item in setup.items.values() if item.tool and item.id not in {each.item for each, _ in made}],
    )
    return drawn(strip_svg(setup, marks))


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
    request.session["in"] = settings_of(request).ticket
    return redirect(request, "/")


@router.get("/share")
@looks_up
def share(request: Request) -> HTMLResponse:
    """Show how another device joins; only on the machine itself."""
    if not is_here(request.scope):
        raise ForbiddenError(seen="the passphrase is shown only on the machine that runs Foible", remedy="look there")
    join_at = settings_of(request).join
    code = None
    if join_at:
        out = io.BytesIO()
        segno.make(join_at, error="m").save(out, kind="svg", xmldecl=False, svgclass="code", lineclass=None, border=2)
        code = drawn(out.getvalue().decode())
    address, _, words = join_at.partition("#")
    return render(request, "share.html", code=code, address=address, words=unquote(words))


@router.get("/drawing.css")
@on_loop
async def drawing_style() -> Response:
    """Return the style of our drawings."""
    return Response(STYLE, media_type="text/css", headers={"Cache-Control": "public, max-age=31536000, immutable"})


@router.get("/help")
@on_loop
async def help_page(request: Request) -> HTMLResponse:
    """Say how to use Foible, and what to take care with."""
    return render(request, "help.html")


@router.get("/api")
@looks_up
def api_page(request: Request) -> HTMLResponse:
    """Describe the API, from its own description."""
    spec = request.app.openapi()
    return render(request, "api.html", spec=spec)
