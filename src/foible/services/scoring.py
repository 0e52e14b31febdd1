"""How Foible does on cases with known causes: a folder of case files in, the rank of each true cause out."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from foible.errors import Problem, ProblemsError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Sequence
    from pathlib import Path

    from foible.services.reasoning import Reasoning
    from foible.trials import Case

__all__ = ["CaseScore", "Score", "score"]

TOP = 3
"""A case counts as found when the true part is among this many suspects."""


@dataclass(frozen=True, slots=True)
class CaseScore:
    """How one case with a known cause came out."""

    name: str
    case: Case
    part_rank: int | None
    """Rank of the first true part, 1 for the first suspect; None where the case names none."""
    item_rank: int | None
    top_part: str
    top_item: str
    unexplained: str
    """Why the model cannot express the cause, where the case file says so."""

    @property
    def part_found(self) -> bool:
        """Whether a true part is among the first three suspects."""
        return self.part_rank is not None and self.part_rank <= TOP

    @property
    def item_found(self) -> bool:
        """Whether the true item comes first."""
        return self.item_rank == 1


@dataclass(frozen=True)
class Score:
    """How a folder of cases came out."""

    cases: tuple[CaseScore, ...]

    @property
    def expressible(self) -> tuple[CaseScore, ...]:
        """The cases whose cause the model can express."""
        return tuple(case for case in self.cases if not case.unexplained)

    @property
    def part_share(self) -> float:
        """Share of expressible cases with a true part among the first three suspects."""
        return sum(case.part_found for case in self.expressible) / max(len(self.expressible), 1)

    @property
    def item_share(self) -> float:
        """Share of expressible cases with the true item first."""
        return sum(case.item_found for case in self.expressible) / max(len(self.expressible), 1)


def score(
    reasoning: Reasoning, folder: Path, *, watch: Callable[[Sequence[Path]], Iterable[Path]] = lambda paths: paths
) -> Score:
    """Return how the cases with known causes in a folder come out. `watch` passes the files on, to show progress.

    Raises ProblemsError where there are none, or one cannot be read.
    """
    paths = sorted(folder.glob("*.toml"))
    if not paths:
        seen = "there are no case files here" if folder.is_dir() else "there is no such folder"
        raise ProblemsError([Problem(str(folder), None, seen, "name a folder with *.toml case files")])
    cases = ((path.stem, reasoning.case(path)) for path in watch(paths))
    scores = [_scored(reasoning, name, case) for name, case in cases if case.expected is not None]
    if not scores:
        seen = "none of the cases here has an [expect] table with its known cause"
        raise ProblemsError([Problem(str(folder), None, seen, "add [expect] with parts = [...] to the cases")])
    return Score(tuple(scores))


def _scored(reasoning: Reasoning, name: str, case: Case) -> CaseScore:
    finding = reasoning.find(case)
    expected = case.expected
    parts, items = (expected.parts, expected.items) if expected else ((), frozenset[str]())
    return CaseScore(
        name=name,
        case=case,
        part_rank=_rank(finding.part_order, parts),
        item_rank=_rank(finding.item_order, items),
        top_part=finding.part_order[0],
        top_item=finding.item_order[0],
        unexplained=expected.unexplained if expected else "",
    )


def _rank(order: Sequence[str], true: Iterable[str]) -> int | None:
    places = [order.index(name) + 1 for name in true if name in order]
    return min(places, default=None)
