"""The `items` commands: found, shown, registered, labelled."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import Data, KitFolders
from foible.cli.register.opened import added, register, told
from foible.cli.terminal import console, write_whole
from foible.errors import InputError

if TYPE_CHECKING:
    from foible.records.register import Job, Reading, RegisteredItem

__all__ = ["add_item", "labels", "list_items", "show_item"]

LISTED = 20
CodeArgument = Annotated[str, typer.Argument(metavar="CODE", help="The item's code, such as “wfk3m”.")]


def list_items(
    words: Annotated[list[str] | None, typer.Argument(metavar="WORDS", help="Only items in which all of these occur.")] = None,
    *,
    count: Annotated[int, typer.Option("--count", min=1, max=1000, help="How many items to list.")] = LISTED,
    data: Data = None,
) -> None:
    """List the items, the most recently changed first."""
    from foible.records.register import item_ids, items_by_ids

    with register(data) as store:
        ids = store.read(lambda session: item_ids(session, " ".join(words or ()), limit=count))
        found = store.read(lambda session: items_by_ids(session, ids))
    for ref in ids:
        console().print(_line(found[ref]), markup=False, soft_wrap=True)
    if not ids:
        console().print("No item here.", markup=False)


def show_item(code: CodeArgument, *, data: Data = None) -> None:
    """Show an item: what is fitted, what was measured, its jobs."""
    from foible.records.register import item_by_code, jobs_of, readings_of

    with register(data) as store:
        item = store.read(lambda session: item_by_code(session, code))
        jobs = store.read(lambda session: jobs_of(session, item.id))
        readings = store.read(lambda session: readings_of(session, item.id))
    lines = [_line(item), *(f"  {slot}: {model}" for slot, model in {**item.fitted, **item.made_by}.items())]
    lines += [f"  {item.notes}"] if item.notes else []
    lines += [_reading(each) for each in readings]
    lines += [_job(each) for each in jobs]
    for line in lines:
        console().print(line, markup=False, soft_wrap=True)


def add_item(
    kind: Annotated[str, typer.Argument(metavar="KIND", help="Such as body cord, lamé, reel, test weight.")],
    *,
    weapon: Annotated[str | None, typer.Option("--weapon", help="The weapon that it is for.")] = None,
    name: Annotated[str, typer.Option("--name", help="What the club calls it.")] = "",
    owner: Annotated[str | None, typer.Option("--owner", help="Whose it is; by default the club's own.")] = None,
    code: Annotated[str | None, typer.Option("--code", help="A code that it bears already; by default one is made up.")] = None,
    fitted: Annotated[
        str | None, typer.Option("--fitted", metavar="FITTINGS", help="What is fitted, such as “socket: bayonet”.")
    ] = None,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Register an item."""
    row: dict[str, object] = {"kind": kind, "weapon": weapon, "name": name, "owner": owner, "code": code, "fitted": fitted}
    made = added(data, kit, "items", row)
    console().print(f"Registered as {made['code']}.", markup=False)


def labels(
    codes: Annotated[list[str], typer.Argument(metavar="CODE", help="Codes of items or parts.")],
    *,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The PDF to write.")],
    address: Annotated[
        str, typer.Option("--address", help="The address at which phones find Foible, such as http://10.0.0.7:8711.")
    ],
    sheet: Annotated[str, typer.Option("--sheet", help="The sheet of labels: 3x8 or 2x7.")] = "3x8",
    first: Annotated[int, typer.Option("--first", min=1, help="The first free label, counted row by row.")] = 1,
    outlines: Annotated[bool, typer.Option("--outlines", help="Draw the edges, to try it on plain paper.")] = False,
    data: Data = None,
) -> None:
    """Write labels to be printed, with a code to scan."""
    from foible.output.label_sheets import sheet_named
    from foible.output.labels_pdf import Label, labels_pdf
    from foible.services.paperwork import named_things

    if not address.startswith(("http://", "https://")):
        raise InputError(seen=f"“{address}” is no address", remedy="give the one at which phones find Foible: http://…")
    with register(data) as store:
        things = store.read(lambda session: named_things(session, codes))
    made = [Label(each.code, f"{address.rstrip('/')}/i/{each.code}", each.lines) for each in things]
    write_whole(out, labels_pdf(made, sheet_named(sheet), first=first, outlines=outlines))
    console().print(f"{len(made)} label{'s' * (len(made) != 1)} written to {out}; print at 100 %.", markup=False, soft_wrap=True)


def _line(item: RegisteredItem) -> str:
    from foible.services.register.kinds import words_of

    due = item.check_due if item.check_due and item.check_due <= datetime.now(UTC).date() else None
    return told(item.code, words_of(item), item.name, item.state.value, due and f"check due {due}")


def _reading(each: Reading) -> str:
    verdict = {True: "passed", False: "failed", None: ""}[each.passed]
    return "  " + told(f"{each.at:%Y-%m-%d}", each.quantity, each.line, f"{each.value:g} {each.unit}", verdict)


def _job(job: Job) -> str:
    found = "; ".join(line.ref for line in job.standing if line.kind.value == "found")
    return "  " + told(f"job {job.id}", f"{job.opened:%Y-%m-%d}", job.kind, job.state.value, job.complaint, found)
