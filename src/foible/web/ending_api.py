"""The JSON API of how a case ends: its proof answered line by line, its ending, and the case reopened."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from fastapi import Request  # noqa: TC002 — FastAPI reads the annotations

from foible.endings import ending_named
from foible.services.closing import close_with, line_failed, line_passed
from foible.web import api
from foible.web.bodies import Ended, Proved  # noqa: TC001 — FastAPI reads the annotations
from foible.web.case_json import CaseName, changed_json
from foible.web.lanes import on_loop

if TYPE_CHECKING:
    from foible.records import KeptCase
    from foible.services.cases import Cases
    from foible.services.given_names import GivenNames

__all__ = ["router"]

router = api.router
"""The API is one; these addresses stand beside those of `api`."""


@router.post("/cases/{name}/proof")
@on_loop
async def prove(request: Request, name: CaseName, body: Proved) -> dict[str, Any]:
    """Record that one line of the proof has passed, or that a trial of it has failed."""

    def proved(cases: Cases, given: GivenNames) -> KeptCase:
        del given
        if body.passed:
            return line_passed(cases, name, body.line, token=body.token, by="api")
        return line_failed(cases, name, body.line, body.report, token=body.token, by="api")

    return await changed_json(request, proved)


@router.put("/cases/{name}/ending")
@on_loop
async def end(request: Request, name: CaseName, body: Ended) -> dict[str, Any]:
    """Close a case with an ending, in place of an earlier one."""

    def ended(cases: Cases, given: GivenNames) -> KeptCase:
        item = body.item and given.item(body.item, cases.weapon(cases.store.case(name)))
        return close_with(cases, name, ending_named(body.ending), item=item, token=body.token, by="api")

    return await changed_json(request, ended)


@router.delete("/cases/{name}/ending")
@on_loop
async def reopen(request: Request, name: CaseName) -> dict[str, Any]:
    """Reopen a case; what was said of its ending stays in it, marked as taken back."""
    return await changed_json(request, lambda cases, _: cases.store.close(name, closed=False))
