"""Files of a kit folder that nothing reads: told, because they are most often misspelt."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from foible.errors import Problem
from foible.tomlfile import read_table

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

__all__ = ["GROUPS", "unused"]

GROUPS = (
    "items", "sockets", "cores", "failures", "repairs", "sources", "weapons", "setups", "profiles", "catalogues", "complaints",
    "circuits", "lessons",
)  # fmt: skip
"""The folders of a kit folder, as docs/kit-files.md lists them."""
SINGLE = ("severities.toml", "names.toml")
"""The files that stand in no folder."""


def unused(folders: Sequence[Path]) -> Iterator[Problem]:
    """Yield a problem for each file of the overlays among `folders`, all but the first, that nothing reads."""
    weapons, items = {path.stem for folder in folders for path in (folder / "weapons").glob("*.toml")}, _items(folders)
    for folder in folders[1:]:
        for path in sorted(folder.rglob("*.toml")):
            group, *rest = path.relative_to(folder).parts
            if not path.is_file():
                yield Problem(str(path), None, "this is not a file", "put a kit file there, or remove it")
            elif not rest and group not in SINGLE:
                remedy = f"put it into one of the folders {', '.join(GROUPS)}"
                yield Problem(str(path), None, "this file is not used", remedy)
            elif rest and (group not in GROUPS or len(rest) > 1):
                yield Problem(str(path), None, "this file is not used", f"the folders of a kit are {', '.join(GROUPS)}")
            elif group in ("setups", "complaints", "circuits") and path.stem not in weapons:
                yield Problem(str(path), None, "this file is not used", f"name it for a weapon: {', '.join(sorted(weapons))}")
            elif group == "items" and path.stem not in items:
                remedy = f"correct its name, or name it in a set-up; there are {', '.join(sorted(items))}"
                yield Problem(str(path), None, "this file is not used", remedy)


def _items(folders: Sequence[Path]) -> set[str]:
    """Return the names of the item files that set-ups ask for."""
    asked: set[str] = set()
    for path in (path for folder in folders for path in (folder / "setups").glob("*.toml") if path.is_file()):
        table: dict[str, Any] = read_table(path)[0]
        for key in ("shared", "each_side"):
            named = table.get(key)
            asked |= {name for name in named.values() if isinstance(name, str)} if isinstance(named, dict) else set()
    return asked
