"""The commands `backup`, `restore` and `check`: copies of the records."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from foible.cli.options import Data, Photos
from foible.cli.terminal import say

__all__ = ["backup", "check", "restore"]


def backup(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="The copy to make: one file, such as foible-2026-10-03.zip.")],
    *,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the file if it exists.")] = False,
    data: Data = None,
    photos: Photos = None,
) -> None:
    """Copy all records, with their photos, into one file; Foible may go on running."""
    from foible.services.copying import back_up
    from foible.services.opening import data_url

    made = back_up(data_url(data), file, photos=photos, replace=replace)
    say(f"{_counted(made.contents.cases, made.contents.entries, len(made.photos))} copied to {file}.")


def restore(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A copy made by `foible backup`.")],
    *,
    replace: Annotated[
        bool, typer.Option("--replace", help="Set the records aside that are in that place now; stop Foible first.")
    ] = False,
    data: Data = None,
    photos: Photos = None,
) -> None:
    """Check a copy and put it where no records are yet; with --replace, in the place of those that are there."""
    from foible.services.copying import restore as put_back
    from foible.services.opening import data_url

    url = data_url(data)
    copied, aside = put_back(file, url, photos=photos, replace=replace)
    if aside:
        say(f"What was there is in {aside}.")
    say(f"{_counted(copied.contents.cases, copied.contents.entries, len(copied.photos))} restored from {file}.")


def check(
    file: Annotated[
        str | None, typer.Argument(metavar="FILE", help="A database, its URL, or a copy; by default your own records.")
    ] = None,
    *,
    photos: Photos = None,
) -> None:
    """Tell whether a database or a copy is whole, and what is in it; nothing is changed by it."""
    from foible.services.copying import check as look
    from foible.services.opening import data_url

    checked = look(file or data_url(None), photos=photos)
    contents = checked.contents
    say(f"{checked.what[:1].upper()}{checked.what[1:]}")
    if contents:
        last = f", last changed {str(contents.latest)[:16]} UTC" if contents.latest else ""
        say(f"{_counted(contents.cases, contents.entries, checked.photos)}{last}; tables at step {contents.step}.")
    for fault in checked.faults:
        say(f"Not whole: {fault}")
    if checked.faults:
        raise typer.Exit(1)
    say("Whole.")


def _counted(cases: int, entries: int, photos: int) -> str:
    counts = ((cases, "case"), (entries, "line"), (photos, "photo file"))
    return ", ".join(f"{count} {word}{'s' * (count != 1)}" for count, word in counts if count or word == "case")
