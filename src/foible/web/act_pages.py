"""Requests that bring a case to its end in, its board out: what was put right, each line of the proof, the ending.

A case that was opened for a job leads back to the job's card.
"""

from __future__ import annotations

from functools import partial
from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request
from starlette.responses import Response  # noqa: TC002 — FastAPI reads the annotations

from foible.endings import ending_named
from foible.services.closing import close_with, line_failed, line_passed
from foible.web.case_board import changed
from foible.web.lanes import looks_up, on_loop
from foible.web.register.hand_over_pages import brought_back
from foible.web.security import check_form, device
from foible.web.shared import cases_of, hub_of, priority_of, redirect

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/cases", dependencies=[Depends(check_form)])
Token = Annotated[str, Form(max_length=40, min_length=4)]
Line = Annotated[str, Form(max_length=600)]
Names = Annotated[list[str] | None, Form(max_length=20)]


@router.post("/{name}/acts")
@on_loop
async def acts(request: Request, name: str, token: Token, exchanged: Names = None, mended: Names = None) -> Response:
    """Record what was exchanged or mended; what proves it is then shown line by line."""
    done = partial(cases_of(request).acted, name, exchanged=_named(exchanged), mended=_named(mended))
    return await changed(request, partial(done, token=token, by=device(request)))


def _named(names: list[str] | None) -> list[str]:
    return [name for name in names or [] if name]


@router.post("/{name}/proof")
@on_loop
async def proof(
    request: Request, name: str, line: Line, token: Token, answer: Annotated[str, Form(pattern="^(passed|failed)$")]
) -> Response:
    """Record that one line of the proof has passed, or that a gauge of it has failed."""
    note = line_passed if answer == "passed" else line_failed
    return await changed(request, partial(note, cases_of(request), name, line, token=token, by=device(request)))


@router.post("/{name}/ending")
@on_loop
async def ending(
    request: Request,
    name: str,
    token: Token,
    ending: Annotated[str, Form(max_length=40)],
    item: Annotated[str, Form(max_length=80)] = "",
) -> Response:
    """Close the case with an ending."""
    named = ending_named(ending)
    end = partial(close_with, cases_of(request), name, named, item=item or None, token=token, by=device(request))
    kept = await priority_of(request).take(end)
    hub_of(request).tell(kept.id, kept.version)
    job = await priority_of(request).reason(partial(brought_back, request, kept))
    return redirect(request, f"/register/jobs/{job.id}" if job else f"/cases/{kept.id}")


@router.post("/{name}/close")
@looks_up
def close(request: Request, name: str, closed: Annotated[str, Form(pattern="^(yes|no)$")]) -> Response:
    """Close a case without an ending, or reopen it."""
    kept = cases_of(request).store.close(name, closed=closed == "yes")
    hub_of(request).tell(kept.id, kept.version)
    return redirect(request, "/" if kept.closed else f"/cases/{kept.id}")
