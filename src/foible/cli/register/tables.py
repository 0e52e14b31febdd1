"""Whole tables in the terminal: a file tried and imported, everything exported."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import Data, KitFolders
from foible.cli.register.opened import here, transfer
from foible.cli.terminal import console, write_whole
from foible.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.services.transfer.planning import Plan
    from foible.services.transfer.taking import Transfer

__all__ = ["give_out", "take_in"]


def take_in(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A spreadsheet saved as CSV, or JSON.")],
    *,
    table: Annotated[
        str | None, typer.Option("--table", help="What it holds: items, parts, people, jobs …; by default what its headings say.")
    ] = None,
    column: Annotated[
        list[str] | None,
        typer.Option("--column", metavar="HEADING=COLUMN", help="What a heading stands for; “HEADING=” leaves it out."),
    ] = None,
    try_only: Annotated[bool, typer.Option("--try", help="Say what it would add and what is wrong; write nothing.")] = False,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Import a file, all of it or nothing; every problem is told by its row."""
    from foible.services.transfer import said_of_headings, table_named

    columns = said_of_headings(column or [])
    wanted = None if table is None else table_named(table).name
    with transfer(data, kit) as opened:
        plan = _tried(opened, file, wanted, columns)
        for notice in plan.notices:
            console().print(f"{notice[:1].upper()}{notice[1:]}.", markup=False, soft_wrap=True)
        if plan.problems:
            for problem in plan.problems:
                typer.echo(f"{file}: {problem}", err=True)
            count = len(plan.problems)
            raise InputError(
                seen=f"{count:,} problem{'s' * (count != 1)}; nothing was saved", remedy="correct them and import it again"
            )
        counts = plan.counts if try_only else opened.take(plan, by=here())
    said = ", ".join(f"{name} {number:,}" for name, number in counts.items()) or "nothing"
    console().print(f"{'It would add' if try_only else 'Imported'}: {said}.", markup=False, soft_wrap=True)


def give_out(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A .json, or a .zip with a CSV for each table.")],
    *,
    contacts: Annotated[bool, typer.Option("--contacts/--no-contacts", help="How people are reached, too.")] = True,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the file if it exists.")] = False,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Export everything in the register, as an import reads it."""
    from foible.services.transfer.exporting import csv_files, json_text, zipped

    if file.suffix.casefold() not in {".json", ".zip"}:
        raise InputError(seen=f"{file} is neither a .json nor a .zip", remedy="name the file register.json or register.zip")
    if file.exists() and not replace:
        raise InputError(seen=f"the file {file} already exists", remedy="give another name, or --replace to overwrite it")
    with transfer(data, kit) as opened:
        rows, now = opened.everything(contacts=contacts), opened.store.now()
    write_whole(file, json_text(rows, now=now).encode() if file.suffix.casefold() == ".json" else zipped(csv_files(rows)))
    console().print(f"{sum(map(len, rows.values())):,} rows exported to {file}.", markup=False, soft_wrap=True)


def _tried(opened: Transfer, file: Path, table: str | None, columns: dict[str, str | None]) -> Plan:
    """Return what a file would add, with a bar of progress where somebody looks."""
    from rich.progress import Progress

    try:
        raw = file.read_bytes()
    except OSError as error:
        raise InputError(seen=f"the file {file} cannot be read ({error.strerror})", remedy="check the path") from error
    with Progress(console=console(), transient=True, disable=not sys.stdout.isatty()) as bar:
        task = bar.add_task("checking", total=None)
        heard: Callable[[int, int], None] = lambda done, of: bar.update(task, completed=done, total=of)  # noqa: E731 — one line of it
        return opened.tried(raw, name=str(file), table=table, columns=columns, progress=heard)
