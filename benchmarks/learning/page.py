"""The figures of the study in; out, the file that keeps them and the table of them in docs/learning.md."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pathlib import Path

__all__ = ["FIGURES", "PAGE", "keep", "table"]

FIGURES, PAGE = "learning.json", "learning.md"
BEGIN, END = "<!-- figures -->", "<!-- end of figures -->"
MEASURES = (("log score", "log score of the failed part"), ("cost s", "cost to be done"))


def keep(figures: dict[str, Any], docs: Path) -> None:
    """Write the figures, and their table into the page between its marks."""
    (docs / FIGURES).write_text(json.dumps(figures, ensure_ascii=False, indent=1) + "\n", encoding="utf-8")
    page = docs / PAGE
    before, _, rest = page.read_text(encoding="utf-8").partition(BEGIN)
    page.write_text(f"{before}{BEGIN}\n\n{table(figures)}\n{END}{rest.partition(END)[2]}", encoding="utf-8")


def table(figures: dict[str, Any]) -> str:
    """Return the figures as tables."""
    weapons = figures["weapons"]
    lines = [
        "| weapon, rates | figure | published rates | true rates known | after 30 | after 100 | after 300 |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for weapon, worlds in (*weapons.items(), ("all three", figures["pooled"])):
        for world in ("4 ×", "to 4 ×"):
            for name, words in MEASURES:
                own = worlds[world][name]
                gains = " | ".join(_gain(own[jobs]["of the gain"]) for jobs in ("30", "100", "300"))
                lines.append(
                    f"| {weapon}, {world} | {words} | {_value(name, own['usual'])} | {_value(name, own['known'])} | {gains} |"
                )
    ordinary = [
        "",
        "| | weapon | after 3 | after 30 | after 100 | after 300 |",
        "| --- | --- | --- | --- | --- | --- |",
    ]
    for world, words in (
        ("ordinary", "ordinary club: cost against published rates"),
        ("4 ×", "4 ×: cost against published rates"),
    ):
        for weapon, worlds in weapons.items():
            own = worlds[world]["cost s"]
            changes = " | ".join(f"{own[jobs]['against usual'][0]:+.2%}" for jobs in ("3", "30", "100", "300"))
            ordinary.append(f"| {words} | {weapon} | {changes} |")
    for world in ("4 ×", "to 4 ×", "ordinary", "as believed"):
        for weapon, worlds in weapons.items():
            held = " | ".join(_held(worlds[world][f"held {jobs}"]) for jobs in (3, 30, 100, 300))
            ordinary.append(f"| {world}: 90 % intervals hold the truth | {weapon} | {held} |")
    clubs = next(iter(weapons.values()))["4 ×"]["clubs"]
    told = f"{clubs} clubs for each weapon and row, {figures['cases']} complaints each, seed {figures['seed']}, "
    told += f"{figures['minutes']} minutes. As believed: {figures['as believed']} clubs for each weapon."
    return "\n".join([*lines, *ordinary, "", told, ""])


def _value(name: str, value: float) -> str:
    return f"{value:.3f}" if name == "log score" else f"{value:.0f} s"


def _gain(gain: list[float]) -> str:
    return f"{gain[0]:.0%} ({gain[1]:.0%}–{gain[2]:.0%})"


def _held(held: list[float | None]) -> str:
    """Return the share of all intervals, and of those of failures that were to be expected at least once."""
    often = f", {held[1]:.0%}" if held[1] is not None else ""
    return f"{held[0]:.0%}{often}"
