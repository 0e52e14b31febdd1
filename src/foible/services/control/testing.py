"""What is tested on each kind of item, at which station, with a figure or without: the rules, and the table's work as data."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING

from foible.control.order import best_order
from foible.control.timed import pick_up, timed
from foible.errors import UnknownNameError
from foible.records.control import StationDoes
from foible.rules.requirements import requirements
from foible.services.register.kinds import kinds
from foible.tomlfile import Strict, read_model

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.rules.requirements import Requirement

__all__ = [
    "LINES", "PINS", "Procedure", "ToTest", "WorkOfTable", "in_order",
    "kind_words", "kinds_for", "what_to_test", "work_of_table",
]  # fmt: skip

LINES = ("A", "B", "C")
"""The three lines of a cord, reel or cable, each with a reading of its own."""
PINS = {"A": "15 mm pin", "B": "middle pin", "C": "20 mm pin"}
"""Where a line is at a plug: FIE Material Rules, August 2026, m.29.2.a, m.31.3; the letters are common practice, no source."""
ONE_LINE = "one wire"
"""How the rules' words of such a quantity begin."""


class Step(Strict):
    """A step of a procedure."""

    id: str
    say: str


class Procedure(Strict):
    """What the rules have done to an item of a kind that failed."""

    kind: str
    clause: str
    step: tuple[Step, ...]
    caution: str = ""
    keeps_back: bool = False
    """Whether the item is never handed back fit for use."""
    breaks: tuple[str, ...] = ()
    """The caution is for requirements whose ids begin so; for all where this is empty."""

    def warns(self, failed: Sequence[str]) -> str:
        """Return the caution where one of the failed requirements is its concern."""
        concerned = not self.breaks or any(each.startswith(self.breaks) for each in failed)
        return self.caution if concerned else ""


class WorkOfTable(Strict):
    """How the table works."""

    typed: tuple[str, ...]
    done_here: tuple[str, ...]
    hands_in: tuple[str, ...]
    quotas: dict[str, str]
    marks: dict[str, str]
    procedure: tuple[Procedure, ...]

    def comes_again(self, kind: str) -> bool:
        """Return whether an item of a kind that failed may be handed in again."""
        procedure = self.procedure_for(kind)
        return procedure is None or not procedure.keeps_back

    def procedure_for(self, kind: str) -> Procedure | None:
        """Return what is done to an item of a kind that failed; None where the rules say nothing more than the form."""
        return next((each for each in self.procedure if each.kind == kind), None)


@dataclass(frozen=True)
class ToTest:
    """One test to be made: a requirement, on one line where there are several."""

    requirement: Requirement
    line: str = ""
    typed: bool = False
    """Whether a figure has to be typed; else it can be."""

    @property
    def test(self) -> tuple[str, str]:
        """What an entry of it is found by."""
        return self.requirement.id, self.line

    @property
    def key(self) -> str:
        """What a form calls it."""
        return f"{self.requirement.id}|{self.line}"

    @property
    def pin(self) -> str:
        """Where a line is found at a plug; "" for a test that is not of one line."""
        return PINS.get(self.line, "")

    @property
    def words(self) -> str:
        """What is tested, for people."""
        return f"{self.requirement.quantity}, line {self.line}" if self.line else self.requirement.quantity


@lru_cache
def work_of_table() -> WorkOfTable:
    """Return how the table works. Raises ProblemsError for slips in the file."""
    return read_model(WorkOfTable, Path(str(files("foible.services.control") / "data" / "table.toml")))


def what_to_test(  # noqa: PLR0913 — an item, a station and the rules
    edition: str,
    kind: str,
    weapon: str | None,
    does: StationDoes = StationDoes.ALL,
    *,
    every: bool = False,
    overlays: Sequence[Path] = (),
) -> tuple[ToTest, ...]:
    """Return what a station tests on an item: what control has to, and with `every` what it may be asked to.

    Raises UnknownNameError where there is no such edition.
    """
    found = _tests(edition, kind, weapon, tuple(overlays))
    here = (each for each in found if does in (StationDoes.ALL, each.requirement.station))
    return tuple(each for each in here if every or each.requirement.required)


@lru_cache(maxsize=256)
def _tests(edition: str, kind: str, weapon: str | None, overlays: tuple[Path, ...]) -> tuple[ToTest, ...]:
    typed, done_here = work_of_table().typed, work_of_table().done_here
    found = []
    for each in in_order(requirements(edition, kind=kind, weapon=weapon, overlays=overlays)):
        if each.id.startswith(done_here):
            continue
        lines = LINES if each.quantity.startswith(ONE_LINE) else ("",)
        found += [ToTest(each, line, typed=each.has_figure and each.tool in typed) for line in lines]
    return tuple(found)


def in_order(wanted: Sequence[Requirement], *, chances: Mapping[str, float] | None = None) -> list[Requirement]:
    """Return requirements in the order that finds most for the time at each station.

    `chances`: how often each fails, by its id, where that is known better than what is usual.
    """
    by_id = {each.id: each for each in wanted}
    found = []
    for station in dict.fromkeys(each.station for each in wanted):
        here = [each for each in wanted if each.station == station]
        found += [by_id[test.name] for test in best_order(timed(here, chances=chances), pick_up())]
    return found


def kinds_for(edition: str, weapon: str, overlays: Sequence[Path] = ()) -> tuple[str, ...]:
    """Return the kinds of item that a fencer of a weapon hands in: those of which the rules demand something at it."""
    return tuple(each for each in work_of_table().hands_in if requirements(edition, kind=each, weapon=weapon, overlays=overlays))


def kind_words(kind: str, weapon: str | None) -> str:
    """Return what an item is, in words: “foil body cord”; of a weapon its own name. Raises UnknownNameError."""
    known = kinds().get(kind)
    if known is None:
        raise UnknownNameError(what="kind of item", name=kind, known=work_of_table().hands_in, all_named=True)
    if kind == "weapon" and weapon:
        return weapon
    return f"{weapon} {known.words}" if weapon else known.words
