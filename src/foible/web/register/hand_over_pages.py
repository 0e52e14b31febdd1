"""Between a case and the workshop: a case's item handed over with its evidence, an item taken to a new case, and back."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Form, Query, Request
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import InputError, NotFoundError
from foible.kit import SIDES
from foible.records.people import Role
from foible.records.register import (
    JobState,
    NewItem,
    change_job,
    item_by_code,
    item_ids,
    items_by_ids,
    job_by_number,
    job_for_case,
)
from foible.services.cases import About
from foible.services.register.from_case import bring_back, hand_over, title_codes
from foible.services.register.items import register_item
from foible.services.register.kinds import kind_named, kinds, setup_for, words_of
from foible.situation import Mode, Situation
from foible.web.lanes import looks_up, reasons
from foible.web.register.asking import Checked, day_in, overlays_of, owners, register_of, show, who
from foible.web.register.permitted import may
from foible.web.shared import cases_of, in_address, redirect

if TYPE_CHECKING:
    from foible.records import KeptCase
    from foible.records.register import Job, RegisteredItem
    from foible.services.cases import Standing

__all__ = ["brought_back", "router"]

router = APIRouter(include_in_schema=False, prefix="/register")
OFFERED = 12
"""Registered items of the right kind that are offered, the latest changed."""
Thing = Annotated[str, Query(max_length=80)]


@router.get("/from-case/{name}")
@reasons
def hand_over_page(request: Request, name: str, thing: Thing = "") -> HTMLResponse:
    """Ask which registered item a case's suspect is, and offer to register it where it is none yet."""
    with in_address():
        standing = cases_of(request).standing(name)
    things = _things(standing)
    chosen = thing if thing in things else next(iter(things))
    in_setup = standing.case.setup.items[chosen]

    def look(session: Any) -> list[RegisteredItem]:  # noqa: ANN401 — a Session
        words = f"{in_setup.kind} {standing.case.setup.weapon if kind_named(in_setup.kind).weapons else ''}"
        ids = item_ids(session, words, limit=OFFERED)
        known = items_by_ids(session, ids)
        return [known[each] for each in ids if known[each].kind == in_setup.kind]

    offered, known = register_of(request).read(lambda session: (look(session), owners(session)))
    code = next((code for code in title_codes(standing.kept.title) if code in {item.code for item in offered}), "")
    return show(
        request, "hand_over.html", standing=standing, things=things, thing=chosen, offered=offered, code=code, owners=known
    )


@router.post("/from-case/{name}", dependencies=[Checked])
@reasons
def hand_over_do(
    request: Request,
    name: str,
    thing: Annotated[str, Form(max_length=80)],
    token: Annotated[str, Form(max_length=30)],
    code: Annotated[str, Form(max_length=20)] = "",
    typed: Annotated[str, Form(max_length=20)] = "",
    promised: Annotated[str, Form(max_length=20)] = "",
) -> Response:
    """Open a job with what the case shows, on the item that is named, or on one registered for it."""
    with in_address():
        standing = cases_of(request).standing(name)
    day, wanted = day_in(promised, "the day promised"), typed.strip() or code
    if thing not in _things(standing):
        raise InputError(
            seen=f"there is no {thing[:40]} in this case that could go to the workshop", remedy="choose one of the list"
        )

    def change(turn: Any) -> int:  # noqa: ANN401 — a Turn
        item = (
            item_by_code(turn.session, wanted)
            if wanted
            else register_item(turn, _new(standing, thing, token), overlays_of(request))
        )
        return hand_over(turn, standing, item, thing, promised=day, token=token).id

    number = register_of(request).write(change, by=who(request), what="the job")
    return redirect(request, f"/register/jobs/{number}")


@router.post("/items/{code}/case", dependencies=[Checked])
@looks_up
def item_case(
    request: Request,
    code: str,
    token: Annotated[str, Form(max_length=30)],
    job: Annotated[int | None, Form(ge=1, le=2**31 - 1)] = None,
) -> Response:
    """Open a case about an item on the bench, with what is fitted to it; from a job card, the case leads back there."""
    item, on_card = register_of(request).read(
        lambda session: (item_by_code(session, code), job_by_number(session, job) if job else None)
    )
    if on_card is not None and (on_card.item_id != item.id or not on_card.state.open):
        raise InputError(seen=f"job {on_card.id} is {on_card.state.value}, or another item’s", remedy="open the item’s own page")
    cases = cases_of(request)
    setup = setup_for(item.weapon, item.fitted, overlays_of(request))
    thing = next((each for each in (f"{SIDES[0]} {item.kind}", item.kind) if each in setup.items), None)
    if thing is None:
        raise NotFoundError(what="kind of item in the circuit", name=item.kind, known=())
    fitted = {SIDES[0]: dict(item.fitted)} if item.fitted else {}
    kept = cases.open(
        setup.weapon,
        title=f"{item.code}: {item.name or words_of(item)}",
        token=token or secrets.token_hex(8),
        about=About("", "", fitted),
        where=Situation(Mode.BENCH, thing, Mode.BENCH.usual_tools),
    )
    if on_card is not None:
        number, wanted = on_card.id, {"case_id": kept.id, "state": JobState.IN_HAND}
        register_of(request).write(lambda turn: change_job(turn, number, wanted, version=None), by=who(request), what="the job")
    return redirect(request, f"/cases/{kept.id}")


def brought_back(request: Request, kept: KeptCase) -> Job | None:
    """Write what a case has come to on the card of the job that it belongs to, and return that job.

    None where there is none, and where nobody has signed in who may work: the case is closed all the same.
    """
    store, cases = register_of(request), cases_of(request)
    if store.read(lambda session: job_for_case(session, kept.id)) is None or not may(request, Role.WORK):
        return None
    standing = cases.standing_of(kept)
    proving = cases.proving(standing)
    return store.write(lambda turn: bring_back(turn, standing, proving), by=who(request), what="the job")


def _things(standing: Standing) -> dict[str, float]:
    """Return the items of a case that can go to the workshop, each with its probability, the likeliest first."""
    items = standing.case.setup.items
    found = {each.name: each.probability for each in standing.diagnosis.finding.items if items[each.name].kind in kinds()}
    if standing.situation.item in items and standing.situation.item is not None:
        found = {standing.situation.item: found.get(standing.situation.item, 0.0)} | found
    return found


def _new(standing: Standing, thing: str, token: str) -> NewItem:
    """Return an item to be registered as what it is in a case, with what is fitted there."""
    in_setup, kept = standing.case.setup.items[thing], standing.kept
    kind = kind_named(in_setup.kind)
    fitted = {slot: model for slot, model in kept.fitted.get(in_setup.side or "", {}).items() if slot in kind.fits}
    return NewItem(kind.name, "", standing.case.setup.weapon if kind.weapons else None, fitted=fitted, token=token)
