"""The `cases` command: kept cases are listed, saved as case files, and imported from them."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import Data, KitFolders
from foible.cli.terminal import console, tell_renamed, todays_names, write_whole
from foible.errors import InputError, printable

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.services.cases import Cases

__all__ = ["about", "close", "list_cases", "reopen", "save", "take"]

LISTED = 20
"""Cases that are listed by default."""


def list_cases(
    words: Annotated[list[str] | None, typer.Argument(metavar="WORDS", help="Only cases in which all of these occur.")] = None,
    *,
    weapon: Annotated[str | None, typer.Option("--weapon", help="Only cases of this weapon.")] = None,
    open_only: Annotated[bool, typer.Option("--open", help="Only open cases.")] = False,
    count: Annotated[int, typer.Option("--count", min=1, max=1000, help="How many cases to list.")] = LISTED,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """List the kept cases, the most recently changed first."""
    from foible.cli.show import show_cases
    from foible.records import CaseQuery, CaseState

    cases = _cases(data, kit)
    with todays_names(kit) as given:
        known = None if weapon is None else cases.reasoning.weapon(given.weapon(weapon)).name
    state = CaseState.OPEN if open_only else CaseState.ALL
    show_cases(console(), cases.store.heads(CaseQuery(words=" ".join(words or ()), weapon=known, state=state), limit=count))


def save(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The case's name, such as “k3m8xq”.")],
    file: Annotated[Path | None, typer.Argument(metavar="FILE", help="The file to write; by default the terminal.")] = None,
    *,
    replace: Annotated[bool, typer.Option("--replace", help="Replace the file if it exists.")] = False,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Save a kept case as a case file."""
    from foible.services.case_files import save_case

    made = save_case(_cases(data, kit), name)
    if file is None:
        sys.stdout.write(printable(made.text) if sys.stdout.isatty() else made.text)
        return
    if file.exists() and not replace:
        raise InputError(seen=f"the file {file} already exists", remedy="give another name, or --replace to overwrite it")
    write_whole(file, made.text.encode())
    console().print(f"Case {name} saved in {file}.", markup=False, soft_wrap=True)


def take(
    files: Annotated[list[Path], typer.Argument(metavar="FILE", help="Case files (docs/case-file.md).")],
    *,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Import case files; one that cannot be read is refused, and those before it stay imported."""
    from foible.services.case_files import take_in
    from foible.trials import file_bytes

    cases = _cases(data, kit)
    for path in files:
        made = take_in(cases, file_bytes(path), name=str(path))
        tell_renamed(made.notices)
        console().print(f"{path} imported as case {made.kept.id}: {made.kept.title}", markup=False, soft_wrap=True)


def close(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The case's name, such as “k3m8xq”.")],
    ending: Annotated[list[str], typer.Argument(metavar="ENDING", help="Such as: exchanged and fencing, no fault found.")],
    *,
    item: Annotated[str | None, typer.Option("--item", help="What is out of use or goes to the workshop.")] = None,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Close a kept case with what became of the kit."""
    from secrets import token_hex

    from foible.endings import ending_named
    from foible.services.closing import close_with

    kept = close_with(_cases(data, kit), name, ending_named(" ".join(ending)), item=item, token=token_hex(8))
    console().print(f"Case {name}: {kept.entries[-1].say}", markup=False, soft_wrap=True)


def about(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The case's name.")],
    *,
    title: Annotated[str | None, typer.Option("--title", help="What the case is called.")] = None,
    piste: Annotated[str | None, typer.Option("--piste", help="Which piste it is on.")] = None,
    fencer: Annotated[str | None, typer.Option("--fencer", help="Whose kit it is.")] = None,
    fitted: Annotated[
        list[str] | None,
        typer.Option("--fitted", metavar="FITTING", help="What is fitted, such as “left socket bayonet”; may be repeated."),
    ] = None,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Say what a kept case is called, on which piste it is, whose kit it is, and what is fitted."""
    from foible.services.fitting import describe, fitted_named

    given = fitted_named(fitted or ())
    kept = describe(_cases(data, kit), name, title=title or None, piste=piste, fencer=fencer, fitted=given)
    fittings = [f"{side} {slot}: {model}" for side, slots in kept.fitted.items() for slot, model in slots.items()]
    said = ", ".join(filter(None, (kept.title, kept.piste and f"piste {kept.piste}", kept.fencer, *fittings)))
    console().print(f"Case {name}: {said}", markup=False, soft_wrap=True)


def reopen(
    name: Annotated[str, typer.Argument(metavar="NAME", help="The case's name.")],
    *,
    data: Data = None,
    kit: KitFolders = None,
) -> None:
    """Reopen a kept case."""
    _cases(data, kit).store.close(name, closed=False)
    console().print(f"Case {name} is open again.", markup=False)


def _cases(data: str | None, kit: Sequence[Path] | None) -> Cases:
    from foible.services.opening import data_url, open_cases

    return open_cases(data_url(data), kit or ())
