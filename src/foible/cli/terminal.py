"""What several commands share: find the reasoning, read names and case files, print, show progress, write a file whole."""

from __future__ import annotations

import json
import sys
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any, TypeVar

from foible.errors import InputError, OutOfCountError, printable
from foible.facts import facts_listed
from foible.situation import Mode, Situation, tools_listed

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from rich.console import Console, ConsoleOptions, RenderableType
    from rich.segment import Segment

    from foible.kit import Renamed
    from foible.services.given_names import GivenNames
    from foible.services.reasoning import Reasoning
    from foible.trials import Case

__all__ = [
    "case_in",
    "chosen",
    "console",
    "print_json",
    "reasoning_at",
    "say",
    "tell_renamed",
    "todays_names",
    "watched",
    "write_whole",
]

Chosen = TypeVar("Chosen")
UNBROKEN, JOINED = "\N{NO-BREAK SPACE}", "\ue000"
"""A space at which no line breaks, and the sign that stands for it while lines are broken, as rich breaks them at any space."""


def reasoning_at(
    kit: Sequence[Path] | None, *, tools: str | None = None, item: str | None = None, facts: str | None = None
) -> Reasoning:
    """Return the reasoning with the kit files in `kit` added, at the piste or with `item` on the bench.

    `tools` is a comma-separated list; None is what is usual in that place. `facts` is one of what is known of it.

    Raises UnknownNameError.
    """
    from foible.services.reasoning import Reasoning

    mode = Mode.BENCH if item else Mode.PISTE
    at_hand = tools_listed(tools) if tools is not None else mode.usual_tools
    situation = Situation(mode=mode, item=item, tools=at_hand, facts=facts_listed(facts or ""))
    return Reasoning(overlays=kit or (), situation=situation)


def case_in(path: Path, reasoning: Reasoning) -> Case:
    """Return the case in a file, and print which former names in it were read as today's. Raises ProblemsError."""
    case = reasoning.case(path)
    tell_renamed(case.notices)
    return case


@contextmanager
def todays_names(kit: Sequence[Path] | None) -> Iterator[GivenNames]:
    """Have the names given in options read as today's; those that were former names are reported at the end, whatever happens."""
    from foible.services.given_names import GivenNames

    given = GivenNames(kit or ())
    try:
        yield given
    finally:
        tell_renamed(given.notices)


def tell_renamed(notices: Iterable[Renamed]) -> None:
    """Print to stderr which former names were read as today's."""
    for notice in notices:
        sys.stderr.write(printable(f"{notice}.\n"))


def console() -> Console:
    """Return what prints to the terminal; what a file or a case says never reaches it as an escape."""
    from rich.console import Console
    from rich.segment import Segment
    from rich.text import Text

    class Plain(Console):
        def render(self, renderable: RenderableType, options: ConsoleOptions | None = None) -> Iterable[Segment]:
            if isinstance(renderable, Text) and UNBROKEN in renderable.plain:
                renderable = renderable.copy()
                renderable.plain = renderable.plain.replace(UNBROKEN, JOINED)
            elif isinstance(renderable, str):
                renderable = renderable.replace(UNBROKEN, JOINED)
            for segment in super().render(renderable, options):
                text = segment.text.replace(JOINED, UNBROKEN)
                yield segment if segment.control else Segment(printable(text), segment.style)

    return Plain(highlight=False)


def watched(things: Sequence[Chosen], label: str) -> Iterable[Chosen]:
    """Pass things on with a progress bar, where the output is a terminal."""
    from rich.console import Console
    from rich.progress import track

    errors = Console(stderr=True)
    return track(things, description=label, console=errors, transient=True, disable=not errors.is_terminal)


def say(text: str) -> None:
    """Print a line as it is, whatever a file or a device has put into it."""
    console().print(printable(text), markup=False, soft_wrap=True)


def print_json(data: dict[str, Any]) -> None:
    """Print an object as JSON."""
    sys.stdout.write(printable(json.dumps(data, ensure_ascii=False, indent=2)) + "\n")


def chosen(what: str, among: Sequence[Chosen], number: int) -> Chosen:
    """Return the entry that the user counted from 1. Raises OutOfCountError."""
    if number > len(among):
        raise OutOfCountError(what=what, number=number, count=len(among))
    return among[number - 1]


def write_whole(path: Path, data: bytes) -> None:
    """Write a file whole or not at all. Raises InputError."""
    path = path.resolve()
    part = path.with_name(f".{path.name}.part")
    try:
        part.write_bytes(data)
        part.replace(path)
    except OSError as error:
        part.unlink(missing_ok=True)
        seen = f"{path} cannot be written ({error.strerror})"
        raise InputError(seen=seen, remedy="check the folder and its permissions") from error
