"""`foible practise worksheet`: exercises on paper as a PDF, with their answers behind."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import KitFolders, Weapon
from foible.cli.terminal import reasoning_at, say, todays_names, write_whole
from foible.errors import InputError

if TYPE_CHECKING:
    from collections.abc import Callable

__all__ = ["WORKSHEETS"]

STEADY = "steady"
HIGHEST = 2**31 - 1


def worksheet(
    *,
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="The .pdf file to write.")],
    weapon: Weapon = None,
    level: Annotated[str, typer.Option(help="As in `foible practise fault`, but “told-wrongly”.")] = STEADY,
    count: Annotated[int, typer.Option(min=1, max=12, help="Exercises.")] = 4,
    seed: Annotated[int, typer.Option(min=0, max=HIGHEST, help="The same seed gives the same sheets.")] = 1,
    kit: KitFolders = None,
) -> None:
    """Write a worksheet: complaints and trials, room to write, and the answers with their reasons."""
    from foible.output.worksheet_pdf import worksheet_pdf
    from foible.practice import level_named
    from foible.services.practice.worksheets import worksheet as made

    if out.suffix.lower() != ".pdf":
        raise InputError(seen=f"a worksheet cannot be written as “{out.name}”", remedy="end the name with .pdf")
    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        known = reasoning.weapon(given.weapon(weapon)) if weapon else reasoning.weapon()
    sheet = made(reasoning, known.name, level_named(level), count, seed)
    write_whole(out, worksheet_pdf(sheet))
    say(f"{len(sheet.exercises)} exercises: {out}")


WORKSHEETS: dict[str, Callable[..., None]] = {"worksheet": worksheet}
