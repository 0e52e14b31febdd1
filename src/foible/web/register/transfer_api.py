"""The register in and out for programs: a file tried, taken in whole or not at all, everything exported as JSON."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

from anyio import to_thread
from fastapi import APIRouter, Query, Request
from starlette.responses import JSONResponse, Response

from foible.services.transfer import said_of_headings, table_named
from foible.services.transfer.exporting import json_text
from foible.web.failures import as_json
from foible.web.lanes import looks_up, on_loop
from foible.web.register.asking import register_of, who
from foible.web.register.transfer_pages import transfer_of

if TYPE_CHECKING:
    from foible.services.transfer.planning import Plan

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/api/register")
SENT = "what was sent"
Table = Annotated[str | None, Query(max_length=40)]
Columns = Annotated[list[Annotated[str, Query(max_length=200)]], Query(max_length=200)]


@router.post("/import/trial")
@on_loop
async def import_trial(request: Request, table: Table = None, column: Columns = ()) -> dict[str, Any]:  # type: ignore[assignment]
    """Say what a file, which is the body, would add, how its headings were understood, and everything that is wrong with it."""
    plan = await to_thread.run_sync(partial(_tried, request, await request.body(), table, column))
    return _plan_json(plan)


@router.post("/import", status_code=201)
@on_loop
async def import_whole(request: Request, table: Table = None, column: Columns = ()) -> Response:  # type: ignore[assignment]
    """Take in a file, which is the body: all of it or, where anything is wrong, nothing; 422 lists every problem by its row."""
    raw = await request.body()

    def take() -> Response:
        plan = _tried(request, raw, table, column)
        if plan.problems:
            told = [{"where": each.where, "seen": each.seen, "remedy": each.remedy} for each in plan.problems]
            seen = f"{len(told):,} problem{'s' * (len(told) != 1)}; nothing was saved"
            return JSONResponse(as_json(422, seen, "correct them and send it again", told), 422)
        added = transfer_of(request).take(plan, by=who(request))
        return JSONResponse(_plan_json(plan) | {"adds": added}, 201)

    return await to_thread.run_sync(take)


@router.get("/export")
@looks_up
def export(request: Request, *, contacts: bool = True) -> Response:
    """Return everything in the register, as an import reads it."""
    rows = transfer_of(request).everything(contacts=contacts)
    return Response(json_text(rows, now=register_of(request).clock()), media_type="application/json")


def _tried(request: Request, raw: bytes, table: str | None, column: list[str]) -> Plan:
    wanted = None if table is None else table_named(table).name
    return transfer_of(request).tried(raw, name=SENT, table=wanted, columns=said_of_headings(column))


def _plan_json(plan: Plan) -> dict[str, Any]:
    tables = [
        {
            "table": each.table.name,
            "rows": each.count,
            "columns": {**each.mapping.by_head, **dict.fromkeys(each.mapping.left_out)},
            "missing": list(each.mapping.missing),
        }
        for each in plan.draft.tables
    ]
    problems = [
        {"table": each.table, "row": each.row, "column": each.column, "seen": each.seen, "remedy": each.remedy}
        for each in plan.problems
    ]
    return {
        "schema": "foible.import/1",
        "tables": tables,
        "adds": plan.counts,
        "problems": problems,
        "notices": list(plan.notices),
    }
