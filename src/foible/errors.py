"""Everything Foible refuses, as one tree.

FoibleError                exit 1   HTTP 500
├── KeepingError           exit 1   HTTP 503   something could not be saved or read
└── InputError             exit 2   HTTP 422   the caller gave something that cannot be used
    ├── ProblemsError                          one or more located problems of a file, all at once
    ├── UnknownNameError                       a part, place, item … that does not exist
    │   └── NotFoundError             HTTP 404   a kept case, or a name in an address, that does not exist
    ├── OutOfCountError                        a number larger than the count
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
    "KeepingError",
    "NotFoundError",
    "OutOfCountError",
    "Problem",
    "ProblemsError",
    "UnknownNameError",
]


LONGEST_NAME = 80
"""Characters of a wrong name that a message repeats."""


SHORT_LIST = 12
"""Names that a message lists rather than sending the reader elsewhere."""


@dataclass(frozen=True)
class Problem:
    """One thing wrong with a file: where it is, what was seen, what to do."""

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


class KeepingError(FoibleError):
    """Something could not be saved or read; what was saved before is untouched."""

    http_status = 503

    def __init__(self, *, what: str, reason: str, done: str = "saved", remedy: str = "nothing was changed; try again") -> None:
        self.seen, self.remedy = f"{what} could not be {done} ({reason})", remedy
        super().__init__(f"{self.seen} — {self.remedy}")


class InputError(FoibleError):
    """The caller gave something that cannot be used: what was seen, and what to do."""

    exit_code = 2
    http_status = 422

    def __init__(self, *, seen: str, remedy: str) -> None:
        self.seen, self.remedy = seen, remedy
        super().__init__(f"{seen} — {remedy}")


class ProblemsError(InputError):
    """A file with problems, all of them collected."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        self.problems: Sequence[Problem] = tuple(problems)
        count = len(self.problems)
        super().__init__(seen=f"{count} problem{'s' * (count != 1)}", remedy="see the list")
        self.args = ("\n".join(str(problem) for problem in self.problems),)


class UnknownNameError(InputError):
    """A name that the kit does not have, with the nearest names it has."""

    def __init__(self, *, what: str, name: str, known: Iterable[str], all_named: bool = False) -> None:
        """`all_named`: the message lists every known name, even where one is close."""
        self.what, self.name, self.known, self.all_named = what, name, tuple(known), all_named
        near = get_close_matches(name, self.known, n=3, cutoff=0.5)
        if near and not all_named:
            remedy = "did you mean " + " or ".join(f"“{entry}”" for entry in near) + "?"
        elif all_named or len(self.known) <= SHORT_LIST:
            remedy = f"there is {', '.join(self.known) or 'none'}"
        else:
            remedy = "`foible kit` lists the names"
        super().__init__(seen=f"there is no {what} called “{_short(name)}”", remedy=remedy)


class NotFoundError(UnknownNameError):
    """The very thing asked for, as an address asks for a page, does not exist."""

    http_status = 404


class OutOfCountError(InputError):
    """A number larger than the count of things."""

    def __init__(self, *, what: str, number: int, count: int) -> None:
        self.what, self.number, self.count = what, number, count
        super().__init__(seen=f"there is no {what} {number}", remedy=f"give a number from 1 to {count}")


class ImpossibleTrialError(InputError):
    """An arrangement that cannot be made with real kit."""


def _short(name: str) -> str:
    """Return a name short enough for a message."""
    return name if len(name) <= LONGEST_NAME else name[:LONGEST_NAME] + "…"
