"""Requests about the devices that have joined in, pages out: who is in, what it is called, who goes."""

from __future__ import annotations

from typing import Annotated

from fastapi import APIRouter, Depends, Form, Request
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import NotFoundError
from foible.web.devices import LONGEST_NAME
from foible.web.failures import ForbiddenError
from foible.web.lanes import looks_up
from foible.web.security import check_form, is_here
from foible.web.shared import redirect, render, settings_of

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Checked = Depends(check_form)


@router.get("/devices")
@looks_up
def devices(request: Request) -> HTMLResponse:
    """Show which devices have joined, and what this one is called."""
    known, own = settings_of(request).devices, str(request.session.get("joined", ""))
    return render(request, "devices.html", devices=known.all(), own=known.one(own), longest=LONGEST_NAME)


@router.post("/devices/name", dependencies=[Checked])
@looks_up
def name(request: Request, called: Annotated[str, Form(max_length=200)] = "") -> Response:
    """Call the asking device something else."""
    settings_of(request).devices.rename(str(request.session.get("joined", "")), called)
    return redirect(request, "/devices")


@router.post("/devices/leave", dependencies=[Checked])
@looks_up
def leave(request: Request) -> Response:
    """End the session of the asking device."""
    settings_of(request).devices.send_away(str(request.session.get("joined", "")))
    request.session.clear()
    return redirect(request, "/join")


@router.post("/devices/{device}/away", dependencies=[Checked])
@looks_up
def away(request: Request, device: str) -> Response:
    """End the session of another device; only on the machine itself."""
    if not is_here(request.scope):
        remedy = "do it there, or with `foible devices --send-away` in its terminal"
        raise ForbiddenError(seen="devices are sent away only on the machine that runs Foible", remedy=remedy)
    known = settings_of(request).devices
    if not known.send_away(device):
        raise NotFoundError(what="device", name=device, known=[each.id for each in known.all()])
    return redirect(request, "/share")
