"""Requests for sheets in; sheets to fill in, those kept, and both on paper out. A competition is not needed for any of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Path, Query, Request
from sqlalchemy import select
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, Response

from foible.kit import all_weapons
from foible.output.strip_sheets_pdf import empty_sheet_pdf, filled_sheet_pdf
from foible.records import ItemRow
from foible.records.control import competition_by_id, competitions
from foible.records.control.sheets import sheet_by_id, sheets_kept
from foible.records.register import item_by_code
from foible.services.control.filled_sheets import Written, fill_in, told_sheet
from foible.services.control.sheets import sheet_named, sheet_tables
from foible.web.control.asking import Number, overlays_of, pdf_named, register_of, show
from foible.web.lanes import looks_up, on_loop
from foible.web.register.asking import Checked, owners
from foible.web.register.asking import overlays_of as kits_of
from foible.web.register.signed_in import who
from foible.web.shared import in_address, redirect

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy.orm import Session

    from foible.records.control.sheets import KeptSheet
    from foible.services.control.filled_sheets import ToldSheet

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/control/sheets")
Name = Annotated[str, Path(max_length=40)]
Word = Annotated[str, Query(max_length=20)]
Which = Annotated[int, Query(ge=0, le=2**31 - 1)]
FIELD = "row."
"""What the name of a field of a sheet begins with in a form."""


@router.get("")
@looks_up
def sheets_page(request: Request) -> HTMLResponse:
    """Show which sheets there are, and those filled in last."""
    kept, named, by = register_of(request).read(lambda session: _kept(session, sheets_kept(session)))
    return show(request, "sheets.html", None, tables=sheet_tables(), kept=kept, named=named, by=by)


@router.get("/kept/{number:int}")
@looks_up
def kept_page(request: Request, number: Number) -> HTMLResponse:
    """Show a sheet as it was filled in."""
    return show(request, "sheet_kept.html", None, told=_one(request, number))


@router.get("/kept/{number:int}/sheet.pdf")
@looks_up
def kept_paper(request: Request, number: Number) -> Response:
    """Return the same on paper."""
    made = filled_sheet_pdf(_one(request, number))
    return Response(made, media_type="application/pdf", headers=pdf_named(f"sheet-{number}"))


@router.get("/{name}")
@looks_up
def sheet_page(request: Request, name: Name, weapon: Word = "", item: Word = "", competition: Which = 0) -> HTMLResponse:
    """Show a sheet to fill in, with those that were filled in before."""
    with in_address():
        return _form(request, _asked(request, name, weapon, item, competition))


@router.get("/{name}/empty.pdf")
@looks_up
def empty_paper(request: Request, name: Name, weapon: Word = "", item: Word = "", competition: Which = 0) -> Response:
    """Return a sheet to fill in by hand."""
    with in_address():
        asked = _asked(request, name, weapon, item, competition)
    return Response(empty_sheet_pdf(asked["sheet"]), media_type="application/pdf", headers=pdf_named(name))


@router.post("/{name}", dependencies=[Checked])
@on_loop
async def sheet_filled(request: Request, name: Name) -> Response:
    """Keep a sheet."""
    form = {key: value for key, value in (await request.form()).items() if isinstance(value, str)}
    return await run_in_threadpool(_keep, request, name, form)


def _keep(request: Request, name: str, form: dict[str, str]) -> Response:
    competition = form.get("competition", "")
    written = Written(
        sheet=name,
        values={key.removeprefix(FIELD): value[:40] for key, value in form.items() if key.startswith(FIELD)},
        weapon=_weapon(request, form.get("weapon", "")),
        item=form.get("item", "")[:20].strip(),
        competition=int(competition) if competition.isdecimal() and competition != "0" else None,
        about=form.get("about", "")[:120],
        note=form.get("note", "")[:2000],
        token=form.get("token", "")[:30] or None,
    )
    with in_address():
        sheet_named(name, written.weapon)
    overlays = overlays_of(request)
    kept = register_of(request).write(lambda turn: fill_in(turn, written, overlays=overlays), by=who(request), what="the sheet")
    return redirect(request, f"/control/sheets/kept/{kept.id}")


def _weapon(request: Request, word: str) -> str | None:
    """Return a weapon's name by its word in addresses; None where none is named or there is no such one."""
    return next((each.name for each in all_weapons(kits_of(request)) if word in {each.word, each.name}), None)


def _asked(request: Request, name: str, weapon: str, code: str, number: int) -> dict[str, Any]:
    """Return the sheet that is asked for, with the item and the competition. Raises UnknownNameError and NotFoundError."""

    def read(session: Session) -> dict[str, Any]:
        item = item_by_code(session, code) if code else None
        competition = competition_by_id(session, number) if number else None
        of_weapon = (item.weapon if item else None) or _weapon(request, weapon) or all_weapons(kits_of(request))[0].name
        sheet = sheet_named(name, of_weapon, competition.edition if competition else "fie-2026", overlays_of(request))
        before = sheets_kept(session, sheet=name, item_id=item.id if item else None)
        kept, named, by = _kept(session, before)
        known = competitions(session, limit=20)
        return {"sheet": sheet, "item": item, "at": competition, "kept": kept, "named": named, "by": by, "competitions": known}

    return register_of(request).read(read)


def _form(request: Request, asked: dict[str, Any]) -> HTMLResponse:
    return show(request, "sheet.html", None, weapons=all_weapons(kits_of(request)), **asked)


def _kept(session: Session, kept: Iterable[KeptSheet]) -> tuple[list[KeptSheet], dict[int, str], dict[int, str]]:
    """Return sheets with the codes of their items and the names of those who filled them in."""
    every = list(kept)
    ids = {each.item_id for each in every if each.item_id}
    codes = {row.id: row.code for row in session.execute(select(ItemRow.id, ItemRow.code).where(ItemRow.id.in_(ids)))}
    return every, codes, owners(session)


def _one(request: Request, number: int) -> ToldSheet:
    def read(session: Session) -> ToldSheet:
        kept = sheet_by_id(session, number)
        _, codes, names = _kept(session, [kept])
        return told_sheet(kept, codes.get(kept.item_id or 0, ""), names.get(kept.by_id or 0, ""), overlays_of(request))

    with in_address():
        return register_of(request).read(read)
