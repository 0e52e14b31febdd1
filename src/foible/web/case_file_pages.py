"""Pages for case files: saving a kept case as one, and importing one, uploaded or pasted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi import APIRouter, Depends, Request
from starlette.datastructures import UploadFile
from starlette.responses import HTMLResponse, Response

from foible.errors import InputError
from foible.services.case_files import save_case, take_in
from foible.web.failures import error_body
from foible.web.lanes import looks_up, on_loop
from foible.web.security import check_form, device
from foible.web.shared import cases_of, priority_of, redirect, render

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Renamed

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Checked = Depends(check_form)
PASTED = "what you pasted"
"""What messages call a file without a name."""
SHOWN = 20_000
"""How much of a refused file the page shows again, to be corrected [characters]."""
LONGEST_NAME = 80


@router.get("/cases/{name}/file")
@looks_up
def save(request: Request, name: str) -> Response:
    """Download a case as a case file."""
    file = save_case(cases_of(request), name)
    headers = {"Content-Disposition": f'attachment; filename="{file.name}"'}
    return Response(file.text, media_type="application/toml", headers=headers)


@router.get("/case-file")
@looks_up
def ask(request: Request) -> HTMLResponse:
    """Ask for a case file."""
    return render(request, "take_in.html", text="", error=None)


@router.post("/case-file", dependencies=[Checked])
@on_loop
async def take(request: Request) -> Response:
    """Import a case file; one that is refused is shown again with what is wrong."""
    async with request.form() as form:
        sent, pasted, token = form.get("file"), form.get("text"), form.get("token")
        raw, name = (pasted if isinstance(pasted, str) else "").encode(), PASTED
        if isinstance(sent, UploadFile) and sent.filename:
            raw, name = await sent.read(), _printable(sent.filename)
    by, once = device(request), str(token)[:40] if token else None

    def taken() -> Response:
        try:
            made = take_in(cases_of(request), raw, name=name, token=once, by=by)
        except InputError as error:
            text = raw.decode("utf-8", "replace")
            shown = text if len(text) <= SHOWN else ""
            return render(request, "take_in.html", error.http_status, text=shown, error=error_body(error))
        if made.notices:
            return _with_notices(request, made.kept.id, made.notices)
        return redirect(request, f"/cases/{made.kept.id}")

    return await priority_of(request).take(taken)


def _with_notices(request: Request, case: str, notices: Sequence[Renamed]) -> Response:
    """Report which former names were read as today's, before the case is shown."""
    return render(request, "taken_in.html", case=case, notices=notices)


def _printable(name: str) -> str:
    return "".join(char for char in name if char.isprintable())[-LONGEST_NAME:] or PASTED
