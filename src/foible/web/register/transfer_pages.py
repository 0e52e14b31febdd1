"""Requests to import and export in: a file tried, its columns matched, taken in with progress; everything out as CSV or JSON."""

from __future__ import annotations

import threading
from dataclasses import replace
from typing import TYPE_CHECKING

from fastapi import APIRouter, Request
from starlette.datastructures import UploadFile
from starlette.responses import HTMLResponse, Response

from foible.errors import InputError, ProblemsError
from foible.services.transfer import table_named, tables
from foible.services.transfer.desk import Desk
from foible.services.transfer.exporting import csv_files, json_text, zipped
from foible.services.transfer.taking import Transfer
from foible.web.failures import error_body
from foible.web.lanes import looks_up, on_loop
from foible.web.register.asking import Checked, overlays_of, register_of, show
from foible.web.register.signed_in import who
from foible.web.shared import cases_of, in_address, priority_of, redirect, texts

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.services.transfer.desk import Waiting
    from foible.services.transfer.planning import Plan

__all__ = ["desk_of", "router", "transfer_of"]

router = APIRouter(include_in_schema=False, prefix="/register")
PASTED = "what you pasted"
LONGEST_NAME = 80
LISTED = 500
"""Problems that a page lists; how many more there are is told."""
LEAVE_OUT = "-"
"""What a form says of a heading that stands for no column."""


def transfer_of(request: Request) -> Transfer:
    """Return what goes in and out of the register."""
    store = register_of(request)
    return Transfer(store.database, clock=store.clock, overlays=overlays_of(request))


def desk_of(request: Request) -> Desk:
    """Return where files wait to be imported: beside the photos. Raises InputError where there is no such place."""
    album = cases_of(request).album
    if album is None:
        raise InputError(seen="there is no folder for files here", remedy="start Foible with --photos FOLDER")
    return Desk(album.folder.with_name(f"{album.folder.name}.imports"))


@router.get("/import")
@looks_up
def import_page(request: Request) -> HTMLResponse:
    """Ask for a file."""
    return show(request, "import.html", tables=tables(), error=None, text="")


@router.post("/import", dependencies=[Checked])
@on_loop
async def import_try(request: Request) -> Response:
    """Keep a file and show what it would add; one that is no table is refused with what is wrong."""
    async with request.form() as form:
        sent, pasted, table = form.get("file"), form.get("text"), form.get("table")
        raw, name = (pasted if isinstance(pasted, str) else "").encode(), PASTED
        if isinstance(sent, UploadFile) and sent.filename:
            raw = await sent.read()
            name = "".join(char for char in sent.filename if char.isprintable())[-LONGEST_NAME:] or PASTED

    def kept() -> Response:
        desk = desk_of(request)
        try:
            wanted = table_named(str(table)).name if table else None
            transfer_of(request).tried(raw, name=name, table=wanted)
        except InputError as error:
            text = raw.decode("utf-8", "replace") if name == PASTED else ""
            return show(request, "import.html", error.http_status, tables=tables(), error=error_body(error), text=text)
        ref = desk.keep(raw, name)
        desk.change(ref, replace(desk.look(ref), table=wanted))
        return redirect(request, f"/register/import/{ref}")

    return await priority_of(request).take(kept)


@router.get("/import/{ref}")
@looks_up
def import_trial(request: Request, ref: str) -> HTMLResponse:
    """Show what a file would add, how far its import is, or how it ended."""
    with in_address():
        waiting = desk_of(request).look(ref)
    if waiting.state in ("running", "done"):
        return show(request, "importing.html", ref=ref, waiting=waiting)
    return _trial(request, ref)


@router.get("/import/{ref}/progress")
@looks_up
def import_progress(request: Request, ref: str) -> HTMLResponse:
    """Show how far an import is, as a part of a page."""
    with in_address():
        return show(request, "_importing.html", ref=ref, waiting=desk_of(request).look(ref))


@router.post("/import/{ref}", dependencies=[Checked])
@on_loop
async def import_go(request: Request, ref: str) -> Response:
    """Read a file in another way, or take it in: in a thread of its own, while the page tells how far it is."""
    async with request.form() as form:
        said = texts(form)

    def go() -> Response:
        desk, transfer = desk_of(request), transfer_of(request)
        with in_address():
            waiting = desk.look(ref)
        if waiting.state in ("running", "done"):
            return redirect(request, f"/register/import/{ref}")
        if said.get("do") != "take":
            desk.change(ref, replace(waiting, state="waiting") if "table" not in said else _chosen(waiting, said))
        elif desk.begin(ref):
            by = who(request)
            threading.Thread(target=desk.run, args=(ref, transfer, by), name="import", daemon=True).start()
        return redirect(request, f"/register/import/{ref}")

    return await priority_of(request).take(go)


@router.get("/export")
@looks_up
def export_page(request: Request) -> HTMLResponse:
    """Show what can be exported."""
    return show(request, "export.html", tables=tables())


@router.get("/export.zip")
@looks_up
def export_csv(request: Request) -> Response:
    """Return everything as CSV, a file for each table."""
    content = zipped(csv_files(transfer_of(request).everything(contacts=True)))
    headers = {"Content-Disposition": 'attachment; filename="register.zip"'}
    return Response(content, media_type="application/zip", headers=headers)


@router.get("/export.json")
@looks_up
def export_json(request: Request) -> Response:
    """Return everything as JSON, as an import reads it."""
    rows = transfer_of(request).everything(contacts=True)
    headers = {"Content-Disposition": 'attachment; filename="register.json"'}
    return Response(json_text(rows, now=register_of(request).clock()), media_type="application/json", headers=headers)


def _chosen(waiting: Waiting, said: Mapping[str, str]) -> Waiting:
    """Return a file as it is to be read: which table, and which column each heading stands for."""
    table = table_named(said["table"]).name
    heads = {key.removeprefix("head_"): head for key, head in said.items() if key.startswith("head_")}
    chosen = {head: said.get(f"as_{place}", LEAVE_OUT) for place, head in heads.items()}
    of_this_table = {column.name for column in table_named(table).column}
    if said.get("shown") != table:  # the columns were those of another table
        chosen = {}
    columns = {head: None if name == LEAVE_OUT else name for head, name in chosen.items() if name in {LEAVE_OUT, *of_this_table}}
    return replace(waiting, table=table, columns=columns, state="waiting")


def _trial(request: Request, ref: str) -> HTMLResponse:
    """Show what a file would add, and everything that is wrong with it."""
    desk = desk_of(request)
    waiting = desk.look(ref)
    plan: Plan | None = None
    error = None
    try:
        plan = desk.tried(ref, transfer_of(request))
    except ProblemsError as refused:
        error = error_body(refused)
    except InputError as refused:
        error = error_body(refused)
        desk.change(ref, replace(waiting, columns={}))
        plan = desk.tried(ref, transfer_of(request))
    problems = plan.problems if plan else ()
    return show(
        request, "import_trial.html", 422 if problems or error else 200,
        ref=ref, waiting=waiting, plan=plan, error=error, tables=tables(), leave_out=LEAVE_OUT,
        problems=problems[:LISTED], more=max(0, len(problems) - LISTED),
    )  # fmt: skip
