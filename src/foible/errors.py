"""Everything Foible refuses, as one tree.

FoibleError                exit 1   HTTP 500
├── KeepingError           exit 1   HTTP 503   something could not be saved or read
└── InputError             exit 2   HTTP 422   the caller gave something that cannot be used
    ├── ProblemsError                          one or more located problems of a file, all at once
    ├── UnknownNameError                       a part, place, item … that does not exist
    │   └── NotFoundError             HTTP 404   a kept case, or a name in an address, that does not exist
    ├── OutOfCountError                        a number larger than the count
    ├── ClashError             HTTP 409   somebody else has changed what was to be changed
    └── ImpossibleTrialError                   an arrangement that cannot be made

The class decides exit code and HTTP status; the constructor takes the facts and writes the sentence.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from difflib import get_close_matches
from typing import TYPE_CHECKING, ClassVar

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping, Sequence

__all__ = [
    "MOST_TOLD",
    "ClashError",
    "FoibleError",
    "ImpossibleTrialError",
    "InputError",
    "KeepingError",
    "NotFoundError",
    "OutOfCountError",
    "Problem",
    "ProblemsError",
    "UnknownNameError",
    "printable",
]


UNSHOWN = re.compile("[\\x00-\\x08\\x0b-\\x1f\\x7f-\\x9f]")
"""Control characters (ISO 6429): what a terminal obeys rather than shows."""
LONGEST_NAME = 80
"""Characters of a wrong name that a message repeats."""


MOST_TOLD = 20
"""Problems of one file that a message tells; how many more there are is told too."""
LONGEST_SEEN = 400
"""Characters of what was seen, or of what to do, that a message repeats."""
SHORT_LIST = 12
ELSEWHERE = {"case": "look for it in the list of cases"}
"""Where to find the names of what no kit has."""
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
        return printable(f"{place}: {_cut(self.seen, LONGEST_SEEN)} — {_cut(self.remedy, LONGEST_SEEN)}")


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
    """A file with problems: all of them are collected, and the first of them are told."""

    def __init__(self, problems: Iterable[Problem]) -> None:
        found = tuple(problems)
        count, more = len(found), len(found) - MOST_TOLD
        self.problems: Sequence[Problem] = found[:MOST_TOLD]
        super().__init__(seen=f"{count} problem{'s' * (count != 1)}", remedy="see the list")
        lines = [str(problem) for problem in self.problems]
        if more > 0:
            last = self.problems[-1]
            rest = f"{more:,} more problems are not listed" if more > 1 else "one more problem is not listed"
            self.problems = (*self.problems, Problem(last.file, None, rest, "correct these first"))
            lines.append(str(self.problems[-1]))
        self.args = ("\n".join(lines),)


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
            remedy = ELSEWHERE.get(what, "`foible kit` lists the names")
        super().__init__(seen=f"there is no {what} called “{_short(name)}”", remedy=remedy)


class NotFoundError(UnknownNameError):
    """The very thing asked for, as an address asks for a page, does not exist."""

    http_status = 404


class OutOfCountError(InputError):
    """A number larger than the count of things."""

    def __init__(self, *, what: str, number: int, count: int) -> None:
        self.what, self.number, self.count = what, number, count
        super().__init__(seen=f"there is no {what} {number}", remedy=f"give a number from 1 to {count}")


class ClashError(InputError):
    """Somebody else has changed what was to be changed: what is there now, and what was wanted, field by field."""

    http_status = 409

    def __init__(self, *, what: str, version: int, now: Mapping[str, object], wanted: Mapping[str, object]) -> None:
        """`version` is that of what is there now: whoever sends that is taken to have seen it."""
        self.what, self.version, self.now, self.wanted = what, version, dict(now), dict(wanted)
        remedy = "look at what is there now, and send yours again if it is still right"
        super().__init__(seen=f"{what} was changed by somebody else in the meantime", remedy=remedy)


class ImpossibleTrialError(InputError):
    """An arrangement that cannot be made with real kit."""


def printable(text: str) -> str:
    """Return a text that does nothing to a terminal: control characters but for line breaks and tabs become “�”."""
    return UNSHOWN.sub("�", text)


def _short(name: str) -> str:
    """Return a name short enough for a message."""
    return _cut(name, LONGEST_NAME)


def _cut(text: str, most: int) -> str:
    return text if len(text) <= most else text[:most] + "…"
