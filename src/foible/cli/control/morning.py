"""`foible morning` and `foible sheet`: the list that proves a strip, and sheets to fill in, in the terminal and on paper."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from foible.cli.options import Facts, KitFolders, Weapon
from foible.cli.terminal import reasoning_at, say, todays_names, write_whole
from foible.errors import InputError
from foible.facts import METAL_PISTE, NO_METAL_PISTE, facts_listed

__all__ = ["morning", "sheet"]

PaperFile = Annotated[Path | None, typer.Option("--out", metavar="FILE", help="Write it as a PDF to this file.")]


def morning(
    *,
    weapon: Weapon = None,
    facts: Facts = None,
    pistes: Annotated[int, typer.Option(min=1, max=60, help="How many pistes there are.")] = 6,
    sure: Annotated[float, typer.Option(min=0.5, max=0.999, help="How certain it is to be that nothing is wrong.")] = 0.95,
    wrong: Annotated[float, typer.Option(min=0.01, max=0.9, help="Share of strips with something wrong beforehand.")] = 0.2,
    out: PaperFile = None,
    kit: KitFolders = None,
) -> None:
    """Show the shortest list of trials that proves a strip before anybody complains, for two people with two good weapons."""
    from foible.output.strip_sheets_pdf import morning_pdf, told_certainty
    from foible.services.control.morning import morning_of

    known = facts_listed(facts or "")
    if not {METAL_PISTE, NO_METAL_PISTE} & set(known):
        known = (METAL_PISTE, *known)
    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        name = given.weapon(weapon) if weapon else None
    made = morning_of(reasoning, name, facts=known, sure=sure, wrong=wrong)
    if out is not None:
        write_whole(_pdf(out), morning_pdf(made, pistes))
    say(f"The morning of the event, {made.weapon} ({', '.join(made.facts)})")
    for number, line in enumerate(made.lines, start=1):
        often = f", {line.times} times" if line.times > 1 else ""
        say(f"{number:3}. {line.say}{often}: {line.shows}")
    say(told_certainty(made))
    for_all = f"{made.minutes(pistes):.0f} min for {pistes}, of which {made.failing(pistes):.1f} fail a line"
    say(f"{made.seconds / 60:.1f} min a strip, {for_all}.")
    for said, names in (("Not in the list", made.left_out), ("No trial here shows", made.never_shown)):
        if names:
            say(f"{said}: {'; '.join(names)}.")
    for each in made.left[:5]:
        say(f"  {100 * each.share:.2f} % {each.failure} ({each.why})")
    if out is not None:
        say(f"sheet to tick: {out}")


def sheet(
    *,
    name: Annotated[str, typer.Argument(help="Which sheet: reel, floor-cable, piste, blade, mask, apparatus, wash.")],
    weapon: Weapon = None,
    out: PaperFile = None,
    kit: KitFolders = None,
) -> None:
    """Print a sheet to fill in by hand: what to measure or look at, and its limit with the clause."""
    from foible.output.strip_sheets_pdf import empty_sheet_pdf
    from foible.services.control.sheets import sheet_named

    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        known = reasoning.weapon(given.weapon(weapon)) if weapon else reasoning.weapon()
    made = sheet_named(name, known.name)
    if out is not None:
        write_whole(_pdf(out), empty_sheet_pdf(made))
    say(f"{made.title} ({made.table.clause})")
    for caution in made.table.cautions:
        say(f"! {caution}")
    for field in made.fields:
        step = f"; set: {field.row.set}; expect: {field.row.expect}" if field.row.set else ""
        gap = f"; left open: {field.row.gap}" if field.row.gap else ""
        say(f"- {field.words}{step}{gap}: {field.limit}  ______ {field.unit}".rstrip())
    if out is not None:
        say(f"empty sheet: {out}")


def _pdf(path: Path) -> Path:
    if path.suffix.lower() != ".pdf":
        raise InputError(seen=f"a sheet cannot be written as “{path.name}”", remedy="end the name with .pdf")
    return path
