"""The `score` command: how cases come out whose cause is known."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from foible.cli.options import AsJson, KitFolders
from foible.cli.terminal import console, print_json, reasoning_at, tell_renamed, watched

__all__ = ["score"]


def score(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="A folder of case files with known causes.")],
    *,
    as_json: AsJson = False,
    kit: KitFolders = None,
) -> None:
    """Diagnose a folder of cases with known causes and print how well each comes out."""
    from foible.cli.show import show_score
    from foible.output.asjson import score_json
    from foible.services.scoring import score as score_of

    result = score_of(reasoning_at(kit), folder, watch=lambda paths: watched(paths, "cases"))
    tell_renamed(notice for case in result.cases for notice in case.case.notices)
    if as_json:
        print_json(score_json(result))
    else:
        show_score(console(), result)
