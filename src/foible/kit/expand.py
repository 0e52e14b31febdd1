"""Part tables that stand for several parts: `each = [...]` filled in."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from foible.kit.names import plain
from foible.kit.schema import PartTable

if TYPE_CHECKING:
    from collections.abc import Mapping

__all__ = ["expanded"]


def expanded(table: PartTable) -> list[PartTable]:
    """Return the parts that `table` stands for; itself where it has no `each`."""
    if not table.each:
        return [table]
    raw = table.model_dump(by_alias=True, exclude={"each"})
    return [PartTable.model_validate(_filled(raw, _words(entry))) for entry in table.each]


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


def _filled(value: Any, words: Mapping[str, str]) -> Any:  # noqa: ANN401 — TOML values of any kind
    match value:
        case str():
            for word, text in words.items():
                value = value.replace(f"{{{word}}}", text)
            return value
        case dict():
            return {_filled(key, words): _filled(entry, words) for key, entry in value.items()}
        case list() | tuple():
            return [_filled(entry, words) for entry in value]
        case _:
            return value
