"""In: what the tools at hand can tell apart. Out: words, tables and JSON."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from rich.table import Table
from rich.text import Text

from foible.kit import job_parts

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from rich.console import Console

    from foible.diagnosis.testability import AmbiguityGroup, Figures, Testability
    from foible.kit import Failure

__all__ = ["FIGURES", "mending", "percentages", "show_testability", "testability_json", "words"]

FIGURES = ("detected", "one item", "≤ 2", "≤ 3", "one part", "≤ 2", "≤ 3", "one repair", "≤ 2", "≤ 3")
"""Headings of what `percentages` returns."""
MOST = 6
"""Failures of a group that are named; the others are counted."""


def percentages(of: Figures) -> list[str]:
    """Return figures in the order of `FIGURES` [%]."""
    shares = (of.detected, *of.to_item, *of.to_part, *of.to_repair)
    return [f"{100 * share:.1f}" for share in shares]


def words(failures: Sequence[Failure], most: int = MOST) -> str:
    """Return the first `most` failures by item, such as “left cord: clip bite (off), clip solder (broken); left lamé: …”."""
    by_item: dict[str, list[str]] = {}
    for failure in failures[:most]:
        name = failure.part.removeprefix(f"{failure.item} ")
        by_item.setdefault(failure.item, []).append(f"{name} ({failure.mode})")
    more = f"; and {len(failures) - most} more" if len(failures) > most else ""
    return "; ".join(f"{item}: {', '.join(names)}" for item, names in by_item.items()) + more


def mending(group: AmbiguityGroup) -> str:
    """Return the one repair that mends a whole group of failures, or how many different repairs they need."""
    return job_parts(group.repairs[0])[1] if group.same_repair else f"{len(group.repairs)} repairs"


def show_testability(console: Console, made: Mapping[str, Testability], groups: int) -> None:
    """Print the figures of each set of tools; of the last, also at most `groups` lines of what it cannot separate or detect."""
    console.print(_table("at hand", {name: known.overall for name, known in made.items()}))
    console.print(Text("Share of all failures by rate [%]: detected, and isolated to at most one, two or three.", style="dim"))
    name, last = list(made.items())[-1]
    console.print()
    console.print(_table(name, {activity.name.lower(): of for activity, of in last.split.items()}))
    console.print(Text("Share of those that are steady, come and go often, and come and go seldom [%].", style="dim"))
    if groups:
        console.print()
        console.print(_groups(f"{name}: not told apart", last.groups[:groups]))
        console.print(_undetected(f"{name}: not detected", last.undetected[:groups]))


def _table(first: str, rows: Mapping[str, Figures]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column(first, overflow="fold")
    for heading in FIGURES:
        table.add_column(heading, justify="right", overflow="fold")
    for name, of in rows.items():
        table.add_row(name, *percentages(of))
    return table


def _groups(title: str, groups: Iterable[AmbiguityGroup]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("%", justify="right", no_wrap=True)
    table.add_column(title, overflow="fold", ratio=3)
    table.add_column("to mend", overflow="fold", ratio=1)
    for group in groups:
        table.add_row(f"{100 * group.share:.1f}", words(group.failures), mending(group))
    return table


def _undetected(title: str, failures: Iterable[tuple[Failure, float]]) -> Table:
    table = Table(box=None, pad_edge=False, header_style="dim")
    table.add_column("%", justify="right", no_wrap=True)
    table.add_column(title, overflow="fold")
    for failure, share in failures:
        table.add_row(f"{100 * share:.1f}", words([failure]))
    return table


def testability_json(weapon: str, made: Mapping[str, Testability], groups: int) -> dict[str, Any]:
    """Return the figures of each set of tools as docs/testability.md describes them."""
    return {"schema": "foible.testability/1", "weapon": weapon, "sets": [_set(known, groups) for known in made.values()]}


def _set(known: Testability, groups: int) -> dict[str, Any]:
    return {
        "tools": list(known.tools),
        **_figures(known.overall),
        "split": {activity.name.lower(): _figures(of) for activity, of in known.split.items()},
        "groups": [
            {
                "share": _short(group.share),
                "failures": list(group.names),
                "items": list(group.items),
                "parts": list(group.parts),
                "repairs": list(group.repairs),
                "same_repair": group.same_repair,
            }
            for group in known.groups[:groups]
        ],
        "undetected": [{"failure": failure.id, "share": _short(share)} for failure, share in known.undetected[:groups]],
    }


def _figures(of: Figures) -> dict[str, Any]:
    return {
        "share": _short(of.share),
        "detected": _short(of.detected),
        "to_item": [_short(share) for share in of.to_item],
        "to_part": [_short(share) for share in of.to_part],
        "to_repair": [_short(share) for share in of.to_repair],
    }


def _short(share: float) -> float:
    """Return a share without digits that are only rounding error."""
    return round(share, 6)
