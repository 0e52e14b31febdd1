"""Repair files from all folders in, repairs by name out, and every slip in them with its line."""

from __future__ import annotations

from difflib import get_close_matches
from typing import TYPE_CHECKING

from foible.kit.model import Repair
from foible.kit.schema import RepairsFile

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from pathlib import Path

    from foible.errors import Problem
    from foible.kit.folders import KitFolders, Read
    from foible.kit.schema import RepairTable

__all__ = ["read_repairs", "unknown_repair"]


def read_repairs(folders: KitFolders, citations: Mapping[str, str]) -> tuple[dict[str, Repair], list[Problem]]:
    """Return the repairs by name, and what is wrong with them.

    Of two repairs with one name in different folders the later folder's counts, and likewise of two cautions with one key. A name
    twice in one folder, a caution or a source that no file gives, are problems. Raises ProblemsError for a misshapen file.
    """
    files = folders.every(RepairsFile, "repairs")
    cautions = {key: sentence for read in files for key, sentence in read.data.cautions.items()}
    repairs: dict[str, Repair] = {}
    problems: list[Problem] = []
    seen: set[tuple[Path, str]] = set()
    for read in files:
        for number, table in enumerate(read.data.repair):
            if (read.path.parent, table.name) in seen:
                twice = f"the repair “{table.name}” is defined twice in this folder"
                problems.append(read.problem(("repair", number, "name"), twice, "give each repair its own name"))
            seen.add((read.path.parent, table.name))
            problems += _slips(read, number, table, cautions, citations)
            repairs[table.name] = _repair(table, cautions)
    return repairs, problems


def unknown_repair(name: str, known: Iterable[str]) -> tuple[str, str]:
    """Return what was seen and what to do where a failure names a repair that no file gives."""
    near = get_close_matches(name, list(known), n=3, cutoff=0.5)
    meant = f", or did you mean {' or '.join(f'“{entry}”' for entry in near)}?" if near else ""
    return f"there is no repair “{name}”", f"add it to a file in repairs/{meant}"


def _slips(
    read: Read[RepairsFile],
    number: int,
    table: RepairTable,
    cautions: Mapping[str, str],
    citations: Mapping[str, str],
) -> list[Problem]:
    where = ("repair", number)
    problems = [
        read.problem(
            (*where, "cautions"), f"there is no caution “{key}”", f"use one of {', '.join(cautions)}, or add it to [cautions]"
        )
        for key in table.cautions
        if key not in cautions
    ]
    if table.source not in citations:
        unknown = f"the source “{table.source}” is unknown"
        problems.append(read.problem((*where, "source"), unknown, "add it to a file in sources/, or name an existing one"))
    return problems


def _repair(table: RepairTable, cautions: Mapping[str, str]) -> Repair:
    return Repair(
        name=table.name,
        steps=table.steps,
        tools=table.tools,
        supplies=table.supplies,
        minutes=table.minutes,
        price=table.price,
        piste_s=table.piste_s,
        set_up=table.set_up,
        cautions=tuple(cautions[key] for key in table.cautions if key in cautions),
        clause=table.clause,
        source=table.source,
    )
