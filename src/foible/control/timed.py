"""The requirements of an item in; out, tests with their seconds and chances to fail, as `order` takes them.

What stands in `data/tests.toml` is judgement; chances learnt from results and seconds measured take its place, test by test.
"""

from __future__ import annotations

import re
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from pydantic import Field

from foible.control.order import TimedTest
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

    from foible.rules import Requirement

__all__ = ["TestsFile", "by_clause", "pick_up", "timed", "usual_chance", "usual_seconds"]

DATA = Path(str(files("foible.control") / "data")) / "tests.toml"


class ToolTable(Strict):
    """What any test with a tool takes."""

    name: str
    seconds: float = Field(gt=0)
    pick_up: float = Field(ge=0)
    fails: float = Field(gt=0, lt=1)


class TestTable(Strict):
    """What is otherwise for one requirement."""

    id: str
    seconds: float | None = Field(default=None, gt=0)
    fails: float | None = Field(default=None, gt=0, lt=1)
    after: tuple[str, ...] = ()
    last: bool = False
    note: str = ""


class TestsFile(Strict):
    """All of it."""

    tool: tuple[ToolTable, ...]
    test: tuple[TestTable, ...]


def usual_seconds(requirement: Requirement) -> float:
    """Return what its test is thought to take [s]."""
    return _own(requirement).seconds or _tools()[requirement.tool].seconds


def usual_chance(requirement: Requirement) -> float:
    """Return the share of items that are thought to fail it, above 0."""
    return _own(requirement).fails or _tools()[requirement.tool].fails


def pick_up() -> Mapping[str, float]:
    """Return what it takes to take up each tool [s]."""
    return {name: tool.pick_up for name, tool in _tools().items()}


def timed(
    wanted: Sequence[Requirement], *, chances: Mapping[str, float] | None = None, seconds: Mapping[str, float] | None = None
) -> tuple[TimedTest, ...]:
    """Return the tests of one item at one station, called by the ids of their requirements, in the order of clauses.

    `chances`, `seconds` [s]: what is known better, by id.
    """
    chances, seconds = chances or {}, seconds or {}
    return tuple(
        TimedTest(
            each.id,
            seconds.get(each.id, usual_seconds(each)),
            chances.get(each.id, usual_chance(each)),
            tuple(other.id for other in wanted if _waits(each, other)),
            each.tool,
        )
        for each in by_clause(wanted)
    )


def by_clause(wanted: Iterable[Requirement]) -> list[Requirement]:
    """Return requirements in the order in which the rulebook comes to them, m.9 before m.10."""
    return sorted(wanted, key=lambda each: [(0, int(run), "") if run.isdigit() else (1, 0, run) for run in _runs(each.clause)])


def _runs(clause: str) -> list[str]:
    return re.findall(r"\d+|[^\W\d_]+", clause)


def _waits(test: Requirement, other: Requirement) -> bool:
    own = _own(test)
    return _bare(other) in own.after or other.id in own.after or (own.last and not _own(other).last)


def _own(requirement: Requirement) -> TestTable:
    tests = _tests()
    return tests.get(requirement.id) or tests.get(_bare(requirement)) or TestTable(id=requirement.id)


def _bare(requirement: Requirement) -> str:
    """Return an id without the weapon that ends it."""
    return requirement.id.partition(".")[0]


@lru_cache
def _file() -> TestsFile:
    return read_model(TestsFile, DATA)


@lru_cache
def _tools() -> dict[str, ToolTable]:
    return {each.name: each for each in _file().tool}


@lru_cache
def _tests() -> dict[str, TestTable]:
    return {each.id: each for each in _file().test}
