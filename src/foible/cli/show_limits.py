"""What the rulebook says, or how two editions differ, in; printed lines out."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.table import Table
from rich.text import Text

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from foible.services.rulebook import Difference, Requirement, RulesSaid

__all__ = ["show_differences", "show_limits"]

DETAILED = 6
"""With so few answers, how each is checked and what is odd or open there are printed too."""
WHAT = {"added": "added", "dropped": "not there", "changed": "changed", "clause": "other clause"}


def show_limits(console: Console, said: RulesSaid) -> None:
    """Print the answers by kind of item; few of them in full."""
    if not said.answers:
        near = f" Did you mean {' or '.join(f'“{each}”' for each in said.near)}?" if said.near else " Try fewer words."
        console.print(Text(f"Nothing is found in {said.edition.title}.{near}"))
        return
    full = len(said.answers) <= DETAILED
    for kind, answers in groupby(said.answers, key=lambda each: each.requirement.kind_words):
        console.print(Text(kind, style="bold"))
        for answer in answers:
            console.print(_line(answer.requirement))
            if full:
                details = [*_details(answer.requirement), *answer.slips, *answer.gaps]
                details += [_beside_words(each.title, each.requirement, each.why) for each in answer.beside if not each.same]
                for words in details:
                    console.print(Padding(Text(words, style="dim"), (0, 0, 0, 6), expand=False))
    console.print(Text(f"{said.total} in {said.edition.title}. The officials and the rulebook in force decide.", style="dim"))


def show_differences(console: Console, first: str, second: str, found: Sequence[Difference]) -> None:
    """Print what the second edition has otherwise than the first."""
    if not found:
        console.print(Text(f"Nothing differs between {first} and {second}."))
        return
    for kind, group in groupby(found, key=lambda each: each.either.kind_words):
        table = Table(title=kind, title_justify="left", show_edge=False)
        table.add_column("")
        for title in (first, second):
            table.add_column(title, ratio=1)
        for each in group:
            table.add_row(WHAT[each.what], _cell(each.was, each.why), _cell(each.now, each.why))
        console.print(table)
        console.print()
    console.print(Text(f"{len(found)} differ.", style="dim"))


def _cell(requirement: Requirement | None, why: str) -> Text:
    if requirement is None:
        return Text(f"– {why}".rstrip())
    note = f"\n{requirement.note}" if requirement.note else ""
    return Text(f"{requirement.quantity}{_at(requirement)}: {requirement.text}{note}")


def _line(requirement: Requirement) -> Padding:
    line = Text()
    line.append(requirement.figure, style="bold")
    line.append(f"  {requirement.quantity}{_at(requirement)} ({requirement.clause})")
    return Padding(line, (0, 0, 0, 2), expand=False)


def _at(requirement: Requirement) -> str:
    """Return the weapons where it is not for all of them."""
    return f", {' and '.join(requirement.weapons)}" if not requirement.for_all else ""


def _details(requirement: Requirement) -> list[str]:
    also = f"; see also {', '.join(requirement.also)}" if requirement.also else ""
    must = "tested at control" if requirement.required else "tested only when asked for"
    said = f"as the rules put it: {requirement.as_said}" if requirement.as_said else ""
    sure = "" if requirement.confidence == "rule text" else f"not rule text: {requirement.confidence}"
    how = f"{requirement.method} ({requirement.station}, {must})" if requirement.method else f"({requirement.station}, {must})"
    return [each for each in (said, how, requirement.note, f"{requirement.source}{also}", sure) if each]


def _beside_words(title: str, requirement: Requirement | None, why: str) -> str:
    if requirement is None:
        return f"{title}: not there{f' ({why})' if why else ''}"
    return f"{title}: {requirement.quantity}, {requirement.text}"
