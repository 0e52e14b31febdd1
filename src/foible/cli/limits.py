"""The `limits` command: what the rulebook requires of an item, with its clause."""

from __future__ import annotations

from typing import TYPE_CHECKING, Annotated

import typer

from foible.cli.options import AsJson, RulesFiles, Weapon
from foible.cli.terminal import console, print_json

if TYPE_CHECKING:
    from foible.services.rulebook import Asked, Rulebook

__all__ = ["limits"]


def limits(
    words: Annotated[
        list[str] | None,
        typer.Argument(
            metavar="WORDS", help="Words or a clause to look for, such as “lamé” or “m.29.1”; without any, everything."
        ),
    ] = None,
    *,
    item: Annotated[str | None, typer.Option("--item", metavar="KIND", help="Of one kind of item only, such as “mask”.")] = None,
    weapon: Weapon = None,
    edition: Annotated[
        str | None,
        typer.Option("--edition", metavar="NAME", help="The edition to ask; by default the FIE’s, or your own rules."),
    ] = None,
    beside: Annotated[
        str | None,
        typer.Option("--beside", metavar="NAME", help="Instead, print how this edition differs."),
    ] = None,
    rules: RulesFiles = None,
    as_json: AsJson = False,
) -> None:
    """Print what the rulebook requires: figures with comparator and clause, and what is judged by eye."""
    from foible.services.rulebook import Asked, Rulebook

    rulebook = Rulebook(rules or ())
    asked = Asked(" ".join(words or ()), item or "", weapon or "", edition or rulebook.usual)
    if beside:
        _compare(rulebook, asked, beside, as_json=as_json)
        return
    said = rulebook.said(asked)
    if as_json:
        from foible.output.rules_json import rules_json

        print_json(rules_json(said))
    else:
        from foible.cli.show_limits import show_limits

        show_limits(console(), said)


def _compare(rulebook: Rulebook, asked: Asked, beside: str, *, as_json: bool) -> None:
    found = rulebook.differences(asked, beside)
    if as_json:
        from foible.output.rules_json import differences_json

        print_json(differences_json(asked.edition, beside, found))
    else:
        from foible.cli.show_limits import show_differences

        show_differences(console(), rulebook.titles[asked.edition], rulebook.titles[beside], found)
