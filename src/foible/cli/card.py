"""The `card` command: a decision tree to hang up at the piste."""

from __future__ import annotations

import sys
from pathlib import Path  # noqa: TC003 — typer reads the annotations
from typing import TYPE_CHECKING, Annotated

import typer

from foible.errors import InputError
from foible.services.reasoning import Reasoning
from foible.situation import TOOLS, tools_listed

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.output import Card

__all__ = ["card"]

SUFFIXES = (".txt", ".html", ".pdf")
"""What a card can be written as."""


def card(  # noqa: PLR0913 — one for each option of the command
    *,
    weapon: Annotated[str, typer.Option("--weapon", help="Which weapon.")] = "foil",
    tools: Annotated[str, typer.Option("--tools", help=f"What is at hand, with commas: {', '.join(TOOLS)}.")] = "spare",
    budget: Annotated[float, typer.Option("--budget", metavar="MINUTES", help="What the trials may take at most.")] = 3.0,
    bench: Annotated[
        str | None, typer.Option("--bench", metavar="ITEM", help="A card for the bench, with this item on it.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="A file .txt, .html or .pdf; left out, to the terminal.")
    ] = None,
    kit: Annotated[
        list[Path] | None, typer.Option("--kit", metavar="FOLDER", help="Folder with further kit files; may be given again.")
    ] = None,
) -> None:
    """Print the decision tree that is best for a weapon, the tools at hand and the time there is."""
    from foible.output import card_of, card_text  # noqa: PLC0415 — drawing a PDF takes long to load

    at_hand = tools_listed(tools)
    if not 0 < budget < float("inf"):
        raise InputError(
            seen=f"a budget of {budget:g} minutes leaves no trial to plan", remedy="give the minutes, such as 3 or 0.5"
        )
    write = None if out is None else _writer(out)
    reasoning = Reasoning(overlays=kit or ())
    made = card_of(reasoning.setup(weapon), reasoning.card(weapon, at_hand, budget, item=bench))
    if out is None or write is None:
        sys.stdout.write(card_text(made))
    else:
        _write(out, write(made))


def _writer(path: Path) -> Callable[[Card], bytes]:
    """Return what makes a file of the suffix that `path` has."""
    from foible.output import card_html, card_text  # noqa: PLC0415 — drawing a PDF takes long to load
    from foible.output.card_pdf import card_pdf  # noqa: PLC0415 — drawing a PDF takes long to load

    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        seen = f"no card can be written as “{path.name}”"
        raise InputError(seen=seen, remedy=f"end the name with {', '.join(SUFFIXES[:-1])} or {SUFFIXES[-1]}")
    if suffix == ".pdf":
        return card_pdf
    made = card_text if suffix == ".txt" else card_html
    return lambda card: made(card).encode()


def _write(path: Path, data: bytes) -> None:
    """Write a file whole or not at all."""
    path = path.resolve()
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        seen = f"{path} cannot be written ({error.strerror})"
        raise InputError(seen=seen, remedy="check the folder and its permissions") from error
