"""The JSON API over the same services. Every error has the one shape of `failures.ErrorShape`."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import Path, Query, Request, Response

from foible.errors import UnknownNameError
from foible.kit import SIDES, weapon_names
from foible.output.asjson import diagnosis_json, explanation_json, notices_json
from foible.services.case_files import save_case, take_in
from foible.services.cases import About
from foible.services.fitting import checked_fitting
from foible.services.fitting import describe as describe_case
from foible.situation import Mode, Situation
from foible.trials import CaseTable, TrialTable, made_case
from foible.web.bodies import (  # noqa: TC001 — FastAPI reads the annotations
    Acted,
    Answer,
    Described,
    Moved,
    NewCase,
    OwnTrial,
    Question,
    Skipped,
)
from foible.web.case_json import TOP, CaseName, changed_json, head_json, router, whole_json
from foible.web.lanes import looks_up, on_loop, reasons
from foible.web.search import FARTHEST, Searched
from foible.web.shared import cases_of, in_address, names_of, priority_of, weapon_of

if TYPE_CHECKING:
    from foible.records import KeptCase
    from foible.services.cases import Cases
    from foible.services.given_names import GivenNames

__all__ = ["router"]

LISTED, MOST_LISTED = 50, 200
"""Cases in an answer by default, and at most."""
TOML = "application/toml"
Weapon = Annotated[str, Path(max_length=20, description=f"The weapon, with or without accents: {', '.join(weapon_names())}")]


@router.get("/cases")
@looks_up
def cases(
    request: Request,
    response: Response,
    search: Searched,
    limit: Annotated[int, Query(ge=1, le=MOST_LISTED)] = LISTED,
    offset: Annotated[int, Query(ge=0, le=FARTHEST)] = 0,
) -> list[dict[str, Any]]:
    """List cases without their entries, the most recently changed first; the header `X-Total-Count` gives the total."""
    heads = cases_of(request).store.heads(search.query, limit=limit, offset=offset)
    response.headers["X-Total-Count"] = str(heads.total)
    return [{**head_json(head), "trials": head.trials} for head in heads.rows]


@router.post("/cases", status_code=201)
@on_loop
async def open_case(request: Request, body: NewCase) -> dict[str, Any]:
    """Open a case."""

    def opened(cases: Cases, given: GivenNames) -> KeptCase:
        weapon = given.weapon(body.weapon)
        about = About(body.piste, body.fencer, checked_fitting(cases.reasoning, weapon, body.fitted))
        if body.complaint:
            return cases.open_complaint(
                weapon, body.complaint, body.side, title=body.title, token=body.token, by="api", about=about
            )
        return cases.open(weapon, title=body.title, token=body.token, about=about)

    return await changed_json(request, opened)


@router.get("/cases/{name}")
@reasons
def case(request: Request, name: CaseName, top: Annotated[int, Query(ge=1, le=50)] = TOP) -> dict[str, Any]:
    """Return a case: its entries, the suspects and the next trials."""
    return whole_json(request, cases_of(request).store.case(name), top)


@router.get(
    "/cases/{name}/file",
    response_class=Response,
    responses={200: {"content": {TOML: {"schema": {"type": "string"}}}, "description": "A case file"}},
)
@looks_up
def case_file(request: Request, name: CaseName) -> Response:
    """Return a case as a case file, with former names brought up to date where they are known."""
    file = save_case(cases_of(request), name)
    headers = {"Content-Disposition": f'attachment; filename="{file.name}"'}
    return Response(file.text, media_type=TOML, headers=headers)


@router.post(
    "/cases/file",
    status_code=201,
    openapi_extra={"requestBody": {"required": True, "content": {TOML: {"schema": {"type": "string"}}}}},
)
@on_loop
async def take_in_file(
    request: Request, token: Annotated[str | None, Query(min_length=1, max_length=40)] = None
) -> dict[str, Any]:
    """Import a case file, sent as the body itself; up to 200 kB."""
    taken = partial(take_in, cases_of(request), await request.body(), name="the file", token=token, by="api")
    made = await priority_of(request).take(taken)
    return await priority_of(request).reason(partial(whole_json, request, made.kept, notices=made.notices))


@router.post("/cases/{name}/answers")
@on_loop
async def answer(request: Request, name: CaseName, body: Answer) -> dict[str, Any]:
    """Record the result of a suggested trial."""

    def answered(cases: Cases, given: GivenNames) -> KeptCase:
        kept = cases.store.case(name)
        say = given.say(body.say, cases.weapon(kept))
        return cases.answer(kept, say, body.report, token=body.token, by="api")

    return await changed_json(request, answered)


@router.post("/cases/{name}/trials")
@on_loop
async def own_trial(request: Request, name: CaseName, body: OwnTrial) -> dict[str, Any]:
    """Record a trial of your own."""

    def noted(cases: Cases, given: GivenNames) -> KeptCase:
        trial = given.trial(body.trial, cases.weapon(cases.store.case(name)))
        return cases.note(name, trial, token=body.token, by="api")

    return await changed_json(request, noted)


@router.post("/cases/{name}/acts")
@on_loop
async def act(request: Request, name: CaseName, body: Acted) -> dict[str, Any]:
    """Record what was exchanged or mended, before anything is tried with it."""

    def acted(cases: Cases, given: GivenNames) -> KeptCase:
        weapon = cases.weapon(cases.store.case(name))
        done = given.trial(TrialTable(swapped=tuple(body.exchanged), mended=tuple(body.mended)), weapon)
        return cases.acted(name, exchanged=done.swapped, mended=done.mended, token=body.token, by="api")

    return await changed_json(request, acted)


@router.post("/cases/{name}/skips")
@on_loop
async def skip(request: Request, name: CaseName, body: Skipped) -> dict[str, Any]:
    """Skip a trial that cannot be done now."""

    def skipped(cases: Cases, given: GivenNames) -> KeptCase:
        say = given.say(body.say, cases.weapon(cases.store.case(name)))
        return cases.skip(name, say, token=body.token, by="api")

    return await changed_json(request, skipped)


@router.delete("/cases/{name}/entries/{number}")
@on_loop
async def take_back(request: Request, name: CaseName, number: Annotated[int, Path(ge=1, le=10_000)]) -> dict[str, Any]:
    """Take an entry back; it stays in the case, marked as taken back."""
    with in_address():
        return await changed_json(request, lambda cases, _: cases.take_back(name, number))


@router.put("/cases/{name}/about")
@on_loop
async def describe(request: Request, name: CaseName, body: Described) -> dict[str, Any]:
    """Say what a case is called, on which piste it is, whose kit it is, and what is fitted on each side."""
    told = {"title": body.title, "piste": body.piste, "fencer": body.fencer}
    return await changed_json(request, lambda cases, _: describe_case(cases, name, **told, fitted=body.fitted))


@router.put("/cases/{name}/place")
@on_loop
async def move(request: Request, name: CaseName, body: Moved) -> dict[str, Any]:
    """Say whether the kit is at the piste or on the bench, and what is at hand."""

    def moved(cases: Cases, given: GivenNames) -> KeptCase:
        item = body.item and given.item(body.item, cases.weapon(cases.store.case(name)))
        return cases.move(name, place=Mode(body.place), item=item, tools=body.tools, facts=body.facts)

    return await changed_json(request, moved)


@router.get("/weapons/{weapon}/complaints")
@looks_up
def complaints(request: Request, weapon: Weapon) -> list[str]:
    """List the complaints that fencers make."""
    return [complaint.say for complaint in cases_of(request).complaints(weapon_of(request, weapon).name, SIDES[0])]


@router.get("/weapons/{weapon}/trials")
@looks_up
def trials(request: Request, weapon: Weapon) -> list[dict[str, Any]]:
    """List the trials that can be done at the piste."""
    ideas = cases_of(request).reasoning.strip_ideas(weapon_of(request, weapon).name)
    return [{"say": idea.say, "seconds": idea.seconds, "needs": list(idea.needs)} for idea in ideas]


@router.get("/weapons/{weapon}/lamps")
@reasons
def lamps(
    request: Request,
    weapon: Weapon,
    say: Annotated[str, Query(max_length=200, description="The sentence of a trial")],
    failure: Annotated[list[str] | None, Query(max_length=2, description="Up to two, as “part: mode”")] = None,
) -> dict[str, Any]:
    """Return which lamps light in a trial, with sound kit or with one or two failures, and the path of the current."""
    cases, given = cases_of(request), names_of(request)
    setup = cases.reasoning.setup(weapon_of(request, given.weapon(weapon)).name)
    named = [given.failure(name, setup.weapon) for name in failure or []]
    made = [cases.reasoning.failure(name, weapon=setup.weapon) for name in named]
    idea = cases.reasoning.idea(setup, given.say(say, setup.weapon))
    if idea is None:
        raise UnknownNameError(what="trial", name=say, known=[each.say for each in cases.reasoning.strip_ideas(setup.weapon)])
    shown = cases.reasoning.shown(setup.weapon, [(each, each.usual_ohms) for each in made], idea)
    lit = {side: explanation_json(each) for side, each in shown.items()}
    return {"say": idea.say, **lit, "notices": notices_json(given.notices)}


@router.post("/diagnoses")
@reasons
def diagnose(request: Request, body: Question, top: Annotated[int, Query(ge=1, le=50)] = TOP) -> dict[str, Any]:
    """Diagnose trials without saving anything."""
    reasoning, given = cases_of(request).reasoning, names_of(request)
    weapon = given.weapon(body.weapon) if body.weapon is not None else reasoning.weapon().name
    item = body.item and given.item(body.item, weapon)
    at = reasoning.at(Situation(Mode(body.place), item, tuple(body.tools)))
    table = CaseTable(weapon=weapon, known_good=tuple(body.known_good), facts=tuple(body.facts), trial=tuple(body.trials))
    diagnosis = at.diagnose(made_case(table, overlays=at.overlays))
    answer = diagnosis_json(diagnosis, at.verdict(diagnosis, top), top)
    return {**answer, "notices": [*notices_json(given.notices), *answer["notices"]]}
