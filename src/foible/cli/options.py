"""The options that several commands share, one meaning each."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from foible.facts import FACTS
from foible.situation import TOOLS

__all__ = [
    "AsJson",
    "CaseFile",
    "Data",
    "Facts",
    "KitFolders",
    "OnBench",
    "Photos",
    "RulesFiles",
    "Suspected",
    "Tools",
    "Top",
    "Weapon",
]

KitFolders = Annotated[
    list[Path] | None,
    typer.Option("--kit", metavar="FOLDER", help="A folder of additional kit files; may be repeated."),
]
RulesFiles = Annotated[
    list[Path] | None,
    typer.Option("--rules", metavar="FILE", help="A file of your own rules (docs/rules.md); may be repeated."),
]
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of text (docs/json.md).")]
Top = Annotated[int, typer.Option("--top", min=1, max=50, help="How many suspects to show.")]
Tools = Annotated[
    str | None,
    typer.Option("--tools", metavar="LIST", help=f"The tools at hand, separated by commas: {', '.join(TOOLS)}; “none” for none."),
]
Facts = Annotated[
    str | None,
    typer.Option("--facts", metavar="LIST", help=f"What is known of the place, separated by commas: {', '.join(FACTS)}."),
]
OnBench = Annotated[
    str | None,
    typer.Option(
        "--bench",
        metavar="ITEM",
        help="The item on the bench, such as “left weapon”, to find the repair it needs; by default you are at the piste.",
    ),
]
Suspected = Annotated[int, typer.Option("--suspect", min=1, help="Which suspect, counted from 1.")]
CaseFile = Annotated[Path, typer.Argument(metavar="CASE", help="A case file (docs/case-file.md).")]
Weapon = Annotated[str | None, typer.Option("--weapon", help="Which weapon; by default the kit's usual one.")]
Data = Annotated[
    str | None,
    typer.Option(
        "--data", metavar="FILE", help="Where cases are kept: a file or a database URL; by default a file in your own folder."
    ),
]
Photos = Annotated[
    str | None,
    typer.Option(
        "--photos", metavar="FOLDER", help="Where photos are kept; by default beside the cases.", envvar="FOIBLE_PHOTOS"
    ),
]
