"""Requests to look something up in the rulebook in, as one types; out, what it says, and how its editions differ."""

from __future__ import annotations

from itertools import groupby
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Depends, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.services.rulebook import Asked, Rulebook
from foible.web.lanes import looks_up
from foible.web.shared import is_partial, render, settings_of

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from foible.services.rulebook import Answer, Difference

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/rules")
Name = Annotated[str, Query(max_length=60)]
SHOWN = 100
"""Answers that a page shows; whoever wants more can add a word."""
WHAT = {"added": "added", "dropped": "not there", "changed": "changed", "clause": "other clause only"}


def _rulebook(request: Request) -> Rulebook:
    return Rulebook(settings_of(request).rules)


def _asked(
    request: Request,
    words: Annotated[str, Query(max_length=100)] = "",
    kind: Name = "",
    weapon: Name = "",
    edition: Name = "",
) -> Asked:
    """Return what an address asks for."""
    return Asked(words, kind, weapon, edition or _rulebook(request).usual)


Question = Annotated[Asked, Depends(_asked)]


@router.get("")
@looks_up
def rules(request: Request, asked: Question) -> HTMLResponse:
    """Show the search and what is found, or the kinds of items that there are rules for; for a script what is found alone."""
    rulebook = _rulebook(request)
    said = rulebook.said(asked, most=SHOWN if asked.narrow else 0)
    return render(
        request,
        "rules/_found.html" if is_partial(request) else "rules/rules.html",
        rulebook=rulebook,
        asked=asked,
        said=said,
        groups=_headed(said.answers, by_part=not asked.words.strip()),
        kinds=rulebook.kinds,
        counts=rulebook.counts(asked.edition),
        weapons=rulebook.weapons,
        address=lambda **changed: _address("/rules", asked, **changed),
    )


@router.get("/difference")
@looks_up
def difference(request: Request, asked: Question, beside: Name = "") -> HTMLResponse:
    """Show how two editions differ, kind by kind."""
    rulebook = _rulebook(request)
    second = beside or next(name for name in reversed(list(rulebook.titles)) if name != asked.edition)
    found = rulebook.differences(asked, second)
    return render(
        request,
        "rules/difference.html",
        rulebook=rulebook,
        asked=asked,
        second=second,
        total=len(found),
        groups=list(_grouped(each for each in found if each.what != "clause")),
        renumbered=[each for each in found if each.what == "clause"],
        what=WHAT,
        kinds=rulebook.kinds,
        weapons=rulebook.weapons,
    )


def _headed(answers: Iterable[Answer], *, by_part: bool) -> list[tuple[str, list[Answer]]]:
    """Return answers under the kinds of items that they are about, or where one leafs through them, under their parts."""

    def heading(answer: Answer) -> str:
        rule = answer.requirement
        return f"{rule.kind_words}: {rule.part}" if by_part else rule.kind_words

    return [(words, list(group)) for words, group in groupby(answers, key=heading)]


def _grouped(found: Iterable[Difference]) -> Iterator[tuple[str, list[Difference]]]:
    for kind, group in groupby(found, key=lambda each: each.either.kind_words):
        yield kind, list(group)


def _address(path: str, asked: Asked, **changed: str) -> str:
    given = {"words": asked.words, "kind": asked.kind, "weapon": asked.weapon, "edition": asked.edition} | changed
    kept = urlencode({name: value for name, value in given.items() if value})
    return f"{path}?{kept}" if kept else path
