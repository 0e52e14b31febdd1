"""The `control` commands, for a desk: competitions opened and looked at, lists of fencers, figures, reject forms to print."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import AsJson, Data, RulesFiles
from foible.cli.register.opened import here, register, told
from foible.cli.terminal import console, print_json, write_whole
from foible.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.services.control.reports import Tally

__all__ = ["CONTROL"]

MOST_SHOWN = 12
"""Lines of each kind of figures."""
Competition = Annotated[int, typer.Argument(metavar="COMPETITION", min=1, help="Its number, as `foible control list` has it.")]


def list_competitions(*, data: Data = None) -> None:
    """List the competitions, the latest first."""
    from foible.records.control import competitions

    with register(data) as store:
        found = store.read(competitions)
    for each in found:
        line = told(each.id, each.name, each.day, each.edition, each.decision, each.state)
        console().print(line, markup=False, soft_wrap=True)
    if not found:
        console().print("No competition here.", markup=False)


def new_competition(
    name: Annotated[str, typer.Argument(metavar="NAME", help="What the competition is called.")],
    *,
    day: Annotated[
        str | None, typer.Option("--day", metavar="DATE", help="Its day, such as 2026-10-03; by default today.")
    ] = None,
    edition: Annotated[str | None, typer.Option("--edition", help="The rules (`foible limits --editions`).")] = None,
    decision: Annotated[str | None, typer.Option("--decision", help="What a reading near a limit comes to.")] = None,
    risk: Annotated[float, typer.Option("--risk", help="The risk that a guarded rule accepts, such as 0.05.")] = 0.05,
    rules: RulesFiles = None,
    data: Data = None,
) -> None:
    """Open a competition."""
    from dataclasses import replace

    from foible.services.control.competition import open_competition, usual

    with register(data) as store:
        today = datetime.now(UTC).astimezone().date()
        try:
            on = datetime.strptime(day, "%Y-%m-%d").replace(tzinfo=UTC).date() if day else today
        except ValueError as error:
            raise InputError(seen=f"“{day}” is no day", remedy="write year, month and day: 2026-10-03") from error
        new = usual(name, on)
        new = replace(new, edition=edition or new.edition, decision=decision or new.decision, risk=risk)
        made = store.write(lambda turn: open_competition(turn, new, overlays=rules or ()), by=here(), what="the competition")
    console().print(f"Competition {made.id} is open: /control/{made.id} in the browser.", markup=False)


def show_competition(competition: Competition, *, as_json: AsJson = False, data: Data = None) -> None:
    """Tell how a table stands: what is to be tested, what failed, what is in the room."""
    from foible.output.table_json import competition_json
    from foible.services.control.competition import overview

    with register(data) as store:
        seen = store.read(lambda session: overview(session, competition))
    if as_json:
        print_json(competition_json(seen))
        return
    counts = ", ".join(f"{count} {state.value}" for state, count in seen.counts.items())
    for line in (
        told(seen.competition.name, seen.competition.day, seen.competition.decision),
        told(
            f"{len(seen.entrants)} fencers",
            f"{len(seen.items)} items",
            f"{seen.to_test} to test",
            f"{seen.in_the_room} in the room",
        ),
        counts or "nothing handed in yet",
    ):
        console().print(line, markup=False, soft_wrap=True)


def import_fencers(
    competition: Competition,
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A list saved as CSV: name, club, contact, number, weapon.")],
    *,
    try_only: Annotated[bool, typer.Option("--try", help="Say what it would enter and what is wrong; write nothing.")] = False,
    data: Data = None,
) -> None:
    """Enter the fencers of a list, all of them or nobody."""
    from secrets import token_hex

    from foible.services.control.listing import enter_list, read_list

    try:
        raw = file.read_bytes()
    except OSError as error:
        raise InputError(seen=f"the file {file} cannot be read ({error.strerror})", remedy="check the path") from error
    with register(data) as store:
        plan = store.read(lambda session: read_list(session, competition, raw, name=str(file)))
        for problem in plan.problems:
            typer.echo(f"{file}: {problem}", err=True)
        if plan.problems:
            count = len(plan.problems)
            raise InputError(seen=f"{count} problem{'s' * (count != 1)}; nobody was entered", remedy="correct them and try again")
        if not try_only:
            mark = token_hex(8)
            store.write(lambda turn: enter_list(turn, competition, plan, token=mark), by=here(), what="the list")
    there = len(plan.fencers) - len(plan.new)
    said = f"{len(plan.new)} fencer{'s' * (len(plan.new) != 1)}" + (f"; {there} there already" if there else "")
    console().print(f"{'It would enter' if try_only else 'Entered'}: {said}.", markup=False)


def tally_of(
    competition: Annotated[
        int | None, typer.Argument(metavar="COMPETITION", min=1, help="Which; by default all of them.")
    ] = None,
    *,
    out: Annotated[Path | None, typer.Option("--out", metavar="FILE", help="A .csv or .pdf to write instead.")] = None,
    as_json: AsJson = False,
    rules: RulesFiles = None,
    data: Data = None,
) -> None:
    """Tell what a table found, by test, kind, club and clause; nobody is named."""
    from foible.output.table_json import tally_json
    from foible.services.control.reports import season_tally, tally

    with register(data) as store:
        if competition is None:
            found = store.read(lambda session: season_tally(session, overlays=rules or ()))
        else:
            found = store.read(lambda session: tally(session, competition, overlays=rules or ()))
    if out is not None:
        _write(out, found)
    elif as_json:
        print_json(tally_json(found))
    else:
        _print(found)


def reject_form_pdf(
    competition: Competition,
    form: Annotated[int, typer.Argument(metavar="FORM", min=1, help="The number of the form at that competition.")],
    *,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The PDF to write.")],
    rules: RulesFiles = None,
    data: Data = None,
) -> None:
    """Write a reject form to be printed."""
    from foible.output.control_pdf import reject_pdf
    from foible.services.control.rejecting import reject_sheet

    with register(data) as store:
        sheet = store.read(lambda session: reject_sheet(session, competition, form, overlays=rules or ()))
    write_whole(out, reject_pdf(sheet))
    console().print(f"Form {form}, {sheet.item} of fencer {sheet.fencer_number}, written to {out}.", markup=False, soft_wrap=True)


def _write(out: Path, found: Tally) -> None:
    from foible.output.control_pdf import tally_pdf
    from foible.services.control.reports import tally_csv

    made = {".csv": tally_csv, ".pdf": tally_pdf}.get(out.suffix.casefold())
    if made is None:
        raise InputError(seen=f"{out} is neither a .csv nor a .pdf", remedy="name the file figures.csv or figures.pdf")
    write_whole(out, made(found))
    console().print(f"Figures written to {out}.", markup=False, soft_wrap=True)


def _print(found: Tally) -> None:
    said = (
        f"{found.items} items: {found.passed} passed at once, {found.failed} failed, {found.passed_later} of those passed later"
    )
    console().print(told(found.title, said), markup=False, soft_wrap=True)
    for by, lines in found.groups.items():
        console().print(f"{by}:", markup=False)
        for line in lines[:MOST_SHOWN]:
            failed = f"{line.failed} of {line.tested} failed"
            console().print(f"  {told(line.name, failed)}", markup=False, soft_wrap=True)


CONTROL: dict[str, Callable[..., None]] = {
    "list": list_competitions,
    "new": new_competition,
    "show": show_competition,
    "import": import_fencers,
    "tally": tally_of,
    "form": reject_form_pdf,
}
