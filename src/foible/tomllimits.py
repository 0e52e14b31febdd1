"""What a TOML file may hold at most, whatever it is about: looked at before anything that takes long."""

from __future__ import annotations

import re
from itertools import islice
from typing import TYPE_CHECKING, Any

from foible.errors import MOST_TOLD, Problem

if TYPE_CHECKING:
    from collections.abc import Iterator

    Where = tuple[str | int, ...]

__all__ = ["DEEPEST", "LONGEST_LINE", "LONGEST_LIST", "LONGEST_TEXT", "MOST_TABLES", "before_parsing", "once_parsed"]

LONGEST_LINE = 2_000
"""Characters."""
LONGEST_TEXT = 5_000
"""Characters of one value, which may go over several lines."""
DEEPEST = 8
"""Names in one dotted key; a parser's time grows as the square of their number."""
LONGEST_LIST = 100
MOST_TABLES = 300
"""Tables of one kind, such as the trials of a catalogue."""
MOST_OF = {"trial": 60}
"""Tables of a kind that takes long to reason about; the most that a kept case takes, too."""

_QUOTED = re.compile(r""" "(?:[^"\\]|\\.)*+" | '[^']*+' """, re.VERBOSE)
_NAME = r"""(?:"[^"]*+"|'[^']*+'|[A-Za-z0-9_-]++)"""
_DEEP = re.compile(rf"(?<![A-Za-z0-9_-]){_NAME}(?:[ \t]*+\.[ \t]*+{_NAME}){{{DEEPEST},}}")


def before_parsing(text: str, name: str) -> list[Problem]:
    """Return what is too long or too deep in the text of a file called `name`."""
    found: list[Problem] = []
    for number, line in enumerate(text.split("\n"), start=1):
        if len(line) > LONGEST_LINE:
            found.append(Problem(name, number, f"a line of {len(line):,} characters is too long", f"keep to {LONGEST_LINE:,}"))
        elif line.count(".") >= DEEPEST and _DEEP.search(_QUOTED.sub('""', line).partition("#")[0]):
            seen = "this key has too many names with dots between them"
            found.append(Problem(name, number, seen, f"use at most {DEEPEST}"))
        if len(found) > MOST_TOLD:
            break
    return found


def once_parsed(table: dict[str, Any]) -> list[tuple[Where, str, str]]:
    """Return where a value is too long, what was seen, and what to do; one more than are told at most."""
    return list(islice(_beyond(table, ()), MOST_TOLD + 1))


def _beyond(value: Any, where: Where) -> Iterator[tuple[Where, str, str]]:  # noqa: ANN401 — whatever TOML may hold
    if isinstance(value, str):
        if len(value) > LONGEST_TEXT:
            yield where, f"a text of {len(value):,} characters is too long", f"keep to {LONGEST_TEXT:,}"
    elif isinstance(value, dict):
        for key, each in value.items():
            yield from _beyond(each, (*where, key))
    elif isinstance(value, list):
        most = _most(value, where)
        if len(value) > most:
            of = f"{len(value):,} trials are too many for one case" if most == MOST_OF.get(str(where[0])) else ""
            yield (*where, most), of or f"{where[-1]}: {len(value):,} are too many", f"keep at most {most} of them"
            return
        for number, each in enumerate(value):
            yield from _beyond(each, (*where, number))


def _most(value: list[Any], where: Where) -> int:
    tables = bool(value) and all(isinstance(each, dict) for each in value)
    return MOST_OF.get(str(where[0]), MOST_TABLES) if tables and len(where) == 1 else LONGEST_LIST
