"""A list of fencers in, tried first: what it would enter and all that is wrong; then entered, all of it or nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from starlette.datastructures import UploadFile
from starlette.responses import HTMLResponse, Response  # noqa: TC002 — FastAPI reads the annotations

from foible.errors import InputError, ProblemsError
from foible.services.control.listing import enter_list, list_table, read_list
from foible.web.control.asking import Number, competition_of, register_of, show
from foible.web.failures import error_body
from foible.web.lanes import looks_up, on_loop
from foible.web.register.asking import Checked
from foible.web.register.signed_in import who
from foible.web.shared import priority_of, redirect

if TYPE_CHECKING:
    from foible.records.register import Turn

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control")
PASTED = "the list"
LISTED = 100
"""Problems, and fencers, that a page lists."""
LONGEST_TOKEN = 24


@router.get("/{number:int}/import")
@looks_up
def import_page(request: Request, number: Number) -> HTMLResponse:
    """Ask for a list."""
    return show(request, "import.html", competition_of(request, number), table=list_table(), text="", plan=None, error=None)


@router.post("/{number:int}/import", dependencies=[Checked])
@on_loop
async def import_list(request: Request, number: Number) -> Response:
    """Show what a list would enter; the same list sent again with “enter them” is entered."""
    async with request.form() as form:
        sent, pasted, goes, token = (form.get(name) for name in ("file", "text", "do", "token"))
        raw = (pasted if isinstance(pasted, str) else "").encode()
        if isinstance(sent, UploadFile) and sent.filename:
            raw = await sent.read()
    mark = token[:LONGEST_TOKEN] if isinstance(token, str) else ""

    def tried() -> Response:
        competition, store = competition_of(request, number), register_of(request)
        if goes == "enter":

            def change(turn: Turn) -> int:
                return len(enter_list(turn, number, read_list(turn.session, number, raw, name=PASTED), token=mark))

            store.write(change, by=who(request), what="the list")
            return redirect(request, f"/control/{number}/fencers")
        values = {"table": list_table(), "text": raw.decode("utf-8", "replace"), "listed": LISTED}
        try:
            plan = store.read(lambda session: read_list(session, number, raw, name=PASTED))
        except (InputError, ProblemsError) as error:
            return show(request, "import.html", competition, 422, plan=None, error=error_body(error), **values)
        return show(request, "import.html", competition, 422 if plan.problems else 200, plan=plan, error=None, **values)

    return await priority_of(request).take(tried)
