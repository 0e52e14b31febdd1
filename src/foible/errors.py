"""Everything Foible refuses, as one tree.

FoibleError                exit 1   HTTP 500
└── InputError             exit 2   HTTP 422   the caller gave something that cannot be used
    ├── ProblemsError                          one or more located problems of a file, all at once
    ├── UnknownNameError                       a part, place, item … that the kit does not have
    └── ImpossibleTrialError                   an arrangement that cannot be made

The class decides exit code and HTTP status; the constructor takes the facts and writes the sentence.
"""

from __future__ import annotations

from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, ClassVar

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

__all__ = [
    "FoibleError",
    "ImpossibleTrialError",
    "InputError",
    "Problem",
    "ProblemsError",
    "UnknownNameError",
]


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a file: where it stands, what was seen, what to do."""

    file: str
    line: int | None
    seen: str
    remedy: str

    def __str__(self) -> str:
        place = self.file if self.line is None else f"{self.file}:{self.line}"
        return f"{place}: {self.seen} — {self.remedy}"


class FoibleError(Exception):
    """The root of all errors that Foible raises on purpose."""

    exit_code: ClassVar[int] = 1
    http_status: ClassVar[int] = 500


class InputError(FoibleError):
    """The caller gave something that cannot be used."""

    exit_code = 2
    http_status = 422


class ProblemsError(InputError):
    """A file with problems, all of them collected."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: Sequence[Problem] = tuple(problems)
        super().__init__("\n".join(str(problem) for problem in self.problems))


class UnknownNameError(InputError):
    """A name that the kit does not have, with the nearest names it has."""

    def __init__(self, *, what: str, name: str, known: Iterable[str]) -> None:
        self.what, self.name = what, name
        self.near = get_close_matches(name, list(known), n=3, cutoff=0.5)
        hint = "did you mean " + " or ".join(f"“{near}”" for near in self.near) + "?" if self.near else ""
        super().__init__(f"there is no {what} called “{name}” — {hint or '`foible kit` lists the names'}")


class ImpossibleTrialError(InputError):
    """An arrangement that cannot be made with real kit."""

    def __init__(self, *, seen: str, remedy: str) -> None:
        self.seen, self.remedy = seen, remedy
        super().__init__(f"{seen} — {remedy}")
