"""A part table of a kit file in, the parts that it stands for out: one for each entry of its `each`."""

from __future__ import annotations

import re

from foible.kit.braces import filled
from foible.kit.names import plain
from foible.kit.schema import PartTable

__all__ = ["expanded"]


def expanded(table: PartTable) -> list[PartTable]:
    """Return the parts that `table` stands for; itself where it has no `each`."""
    if not table.each:
        return [table]
    raw = table.model_dump(by_alias=True, exclude={"each"})
    return [PartTable.model_validate(filled(raw, _words(entry))) for entry in table.each]


def _words(entry: str) -> dict[str, str]:
    halves = re.split(r" to |-", entry)
    return {
        "x": entry,
        "lower": entry.lower(),
        "plain": plain(entry),
        "snake": entry.lower().replace(" ", "_"),
        "first": halves[0].lower(),
        "second": halves[-1].lower(),
        "first_input": halves[0].lower().replace(" ", "_"),
        "second_input": f"{entry.split(' ', maxsplit=1)[0]}_{halves[-1]}".lower(),
    }
