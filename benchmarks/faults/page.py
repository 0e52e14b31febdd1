"""The rows of the fault runs, as docs/faults.json keeps them and docs/reliability.md shows them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

from benchmarks.server import HERE

if TYPE_CHECKING:
    from collections.abc import Sequence

    from benchmarks.faults.row import Row

__all__ = ["FIGURES", "PAGE", "keep", "table", "with_table"]

FIGURES = HERE / "docs" / "faults.json"
PAGE = HERE / "docs" / "reliability.md"
BEGIN, END = "<!-- begin: written by make faults -->", "<!-- end: written by make faults -->"


def keep(part: str, rows: Sequence[Row], *, day: str, seconds: float) -> None:
    """Keep what a part has found in place of what it found before, and write the page anew."""
    figures: dict[str, Any] = json.loads(FIGURES.read_text(encoding="utf-8")) if FIGURES.exists() else {}
    figures[part] = {"day": day, "minutes": round(seconds / 60, 1), "rows": [row.as_json() for row in rows]}
    FIGURES.write_text(json.dumps(figures, indent=1, ensure_ascii=False, sort_keys=True) + "\n", encoding="utf-8")
    PAGE.write_text(with_table(PAGE.read_text(encoding="utf-8"), figures), encoding="utf-8")


def with_table(page: str, figures: dict[str, Any]) -> str:
    """Return a page with the table of these figures between its marks."""
    before, _, rest = page.partition(BEGIN)
    after = rest.partition(END)[2]
    return f"{before}{BEGIN}\n{table(figures)}\n{END}{after}"


def table(figures: dict[str, Any]) -> str:
    """Return the table: promise, what was tried and found, what was lost, the test, and how to do it again."""
    lines = ["| promise | tried and found | lost | test | again |", "| --- | --- | ---: | --- | --- |"]
    for part, found in sorted(figures.items()):
        for row in found["rows"]:
            again = f"`make faults PART={part}` ({found['day']}, {found['minutes']} min)"
            lines.append(f"| {row['promise']} | {row['tried']} | {row['lost']} | `{row['test']}` | {again} |")
    return "\n".join(lines)
