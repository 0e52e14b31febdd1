"""The `card` command: decision trees to hang up at the piste."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import Facts, KitFolders, Weapon
from foible.cli.terminal import reasoning_at, todays_names, write_whole
from foible.errors import InputError
from foible.facts import facts_listed
from foible.situation import TOOLS, tools_listed

if TYPE_CHECKING:
    from collections.abc import Callable

    from foible.output import Card

__all__ = ["card"]

SUFFIXES = (".txt", ".html", ".pdf")
"""What a card can be written as."""


def card(
    *,
    weapon: Weapon = None,
    tools: Annotated[str, typer.Option("--tools", help=f"The tools at hand, separated by commas: {', '.join(TOOLS)}.")] = "spare",
    budget: Annotated[float, typer.Option("--budget", metavar="MINUTES", help="The most time the trials may take.")] = 3.0,
    bench: Annotated[
        str | None, typer.Option("--bench", metavar="ITEM", help="Make the card for the bench, with this item on it.")
    ] = None,
    facts: Facts = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="FILE", help="Write to this .txt, .html or .pdf file instead of the terminal.")
    ] = None,
    kit: KitFolders = None,
) -> None:
    """Print the best decision trees for what fencers say of a weapon, the tools at hand and the time available."""
    from foible.output import card_of, card_text

    at_hand, known = tools_listed(tools), facts_listed(facts or "")
    if not 0 < budget < float("inf"):
        raise InputError(
            seen=f"a budget of {budget:g} minutes leaves no time for a trial", remedy="give the minutes, such as 3 or 0.5"
        )
    write = None if out is None else _writer(out)
    reasoning = reasoning_at(kit)
    with todays_names(kit) as given:
        setup = reasoning.setup(weapon and given.weapon(weapon))
        item = bench and given.item(bench, setup.weapon)
    made = card_of(setup, reasoning.card(setup.weapon, at_hand, budget, item=item, facts=known))
    if out is None or write is None:
        sys.stdout.write(card_text(made))
    else:
        write_whole(out, write(made))


def _writer(path: Path) -> Callable[[Card], bytes]:
    """Return what makes a file of the suffix that `path` has."""
    from foible.output import card_html, card_text
    from foible.output.card_pdf import card_pdf

    suffix = path.suffix.lower()
    if suffix not in SUFFIXES:
        seen = f"a card cannot be written as “{path.name}”"
        raise InputError(seen=seen, remedy=f"end the name with {', '.join(SUFFIXES[:-1])} or {SUFFIXES[-1]}")
    if suffix == ".pdf":
        return card_pdf
    made = card_text if suffix == ".txt" else card_html
    return lambda card: made(card).encode()
