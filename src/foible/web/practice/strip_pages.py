"""Requests for hidden faults in; out, the strip on which one is looked for, the question what it is, and the talk afterwards.

An address holds the whole attempt, so nothing is kept here: going back is going back, and a link shows the same fault to others.
"""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from functools import partial
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.background import BackgroundTask
from starlette.concurrency import run_in_threadpool
from starlette.responses import HTMLResponse, RedirectResponse, Response

from foible.drawing import Marks, strip_svg
from foible.errors import InputError
from foible.kit import SIDES
from foible.practice import NOTHING_WRONG, Deed, Level, Step, level_named, written_steps
from foible.services.practice.drills import once
from foible.services.practice.flaws import unseeing
from foible.services.practice.grading import result_of, subject_of
from foible.services.practice.plans import MOST_TRIALS, exchanging_in_turn, following_advice, knowing, told_again
from foible.services.practice.reasoned import advised
from foible.services.practice.strip import attempt_at, doable_at, hidden_at, lamps_lit, repairs_of
from foible.services.practice.talk import talk_about
from foible.trials import read_trial
from foible.web.lanes import looks_up, on_loop, reasons
from foible.web.practice.learner import learner_of, noted
from foible.web.shared import cases_of, drawn, in_address, priority_of, render, weapon_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from foible.kit import Setup
    from foible.practice import Attempt

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice/strip")
Did = Annotated[str, Query(max_length=600)]
NUMBERS = 1_000_000
"""Hidden faults of a level that are drawn from."""
LIT = {"lit": 1.0, "flickers": 1.0, "sometimes": 1.0, "dark": 0.0}


@dataclass(frozen=True)
class _Address:
    """Where a page is: a weapon's word, a level and a number, with the attempt so far."""

    word: str
    level: str
    number: str
    attempt: Attempt

    @property
    def base(self) -> str:
        """The address of the fault, without an attempt."""
        return f"/practice/strip/{self.word}/{self.level}/{self.number}"

    @property
    def did(self) -> str:
        """The attempt as a word."""
        return written_steps(self.attempt.steps)

    @property
    def before(self) -> str:
        """The address as it was before the last step."""
        return self.page(did=written_steps(self.attempt.steps[:-1]))

    def then(self, step: Step) -> str:
        """Return the address with one more step."""
        return self.page(did=written_steps((*self.attempt.steps, step)))

    def page(self, page: str = "", **query: str) -> str:
        """Return the address of a page about this attempt."""
        asked = {key: value for key, value in {"did": self.did, **query}.items() if value}
        return f"{self.base}{page}{'?' if asked else ''}{urlencode(asked)}"


@router.get("")
@looks_up
def levels(request: Request) -> HTMLResponse:
    """Show at which weapons and levels a fault can be hidden."""
    return render(request, "practice/levels.html", weapons=cases_of(request).reasoning.weapons(), levels=list(Level))


@router.get("/{word}/{level}/new")
@on_loop
async def another(request: Request, word: str, level: str) -> Response:
    """Lead to a hidden fault that nobody has chosen."""
    with in_address():
        known = level_named(level)
    return RedirectResponse(f"/practice/strip/{weapon_of(request, word).word}/{known.value}/{secrets.randbelow(NUMBERS)}", 303)


@router.get("/{word}/{level}/{number}")
@looks_up
def strip(
    request: Request, word: str, level: str, number: str, did: Did = "", at: Annotated[str, Query(max_length=80)] = ""
) -> HTMLResponse:
    """Show the strip, what the last step showed, and what can be done at the item that was touched."""
    here = _address(request, word, level, number, did)
    attempt, setup = here.attempt, here.attempt.setup
    item = setup.items.name(at) if at else (attempt.hidden.item or "")
    last = attempt.done[-1] if attempt.done else None
    lamps = lamps_lit(setup, last.table if last else None)
    put_right = last is not None and last.idea is None and last.item != NOTHING_WRONG
    again = told_again(attempt.hidden, attempt.ideas)
    shown, at_rest = ({}, lamps) if put_right else (lamps, {})
    values = {
        "at_rest": at_rest,
        "put_right": put_right,
        "repairs": repairs_of(attempt, last.naming.part) if last and last.naming and last.naming.part else (),
        "here": here,
        "attempt": attempt,
        "last": last,
        "shown": shown,
        "item": item,
        "doable": doable_at(attempt, item) if item else None,
        "again": None if again is None else here.then(Step(Deed.TRIAL, again)),
        "drawing": drawn(_drawing(here, item, lamps)),
        "sides": SIDES,
        "weapon": setup.weapon,
    }
    page = render(request, "practice/strip.html", **values)  # type: ignore[arg-type]
    page.background = BackgroundTask(_ahead, request, attempt)
    return page


@router.get("/{word}/{level}/{number}/name")
@looks_up
def name_it(request: Request, word: str, level: str, number: str, did: Did = "") -> HTMLResponse:
    """Ask what it is."""
    here = _address(request, word, level, number, did)
    setup = here.attempt.setup
    items = [(place + 1, item) for place, item in enumerate(setup.items.values()) if not item.tool]
    parts: dict[str, list[tuple[int, str]]] = {}
    for place, part in enumerate(setup.parts.values()):
        parts.setdefault(part.item, []).append((place, part.name))
    return render(request, "practice/name.html", here=here, weapon=setup.weapon, items=items, parts=parts)


@router.get("/{word}/{level}/{number}/named")
@looks_up
def named(
    request: Request, word: str, level: str, number: str, it: Annotated[str, Query(max_length=20)] = "", did: Did = ""
) -> Response:
    """Take what was named, and lead back to the strip, where it is put right by now. Raises InputError."""
    here = _address(request, word, level, number, did)
    item, _, part = it.partition(".")
    if not item.isdigit() or (part and not part.isdigit()):
        raise InputError(seen="nothing was named", remedy="choose what it is, an item or “nothing wrong”")
    step = Step(Deed.NAME, int(item), int(part) if part else None)
    attempt_at(cases_of(request).reasoning, here.attempt.hidden, written_steps((*here.attempt.steps, step)))
    return RedirectResponse(here.then(step), 303)


@router.get("/{word}/{level}/{number}/talk")
@reasons
def talk(request: Request, word: str, level: str, number: str, did: Did = "") -> HTMLResponse:
    """Show the talk afterwards, which can be printed, with a link to the same fault for somebody else."""
    here = _address(request, word, level, number, did)
    told = talk_about(cases_of(request).reasoning, here.attempt)
    if here.attempt.steps:  # the first time counts: whoever has read the talk knows what it is
        noted(request, result_of(told, f"{here.level}/{here.number}"), token=once(learner_of(request), here.base))
    address = str(request.base_url).rstrip("/") + here.base
    return render(request, "practice/talk.html", here=here, talk=told, weapon=here.attempt.setup.weapon, link=address)


async def _ahead(request: Request, attempt: Attempt) -> None:
    """Work out, once the page is out, what the talk will need: what was to be known by now, how others go about it, its idea."""
    reasoning, reason = cases_of(request).reasoning, priority_of(request).reason
    if not attempt.steps:
        for others in (knowing, exchanging_in_turn):
            await run_in_threadpool(others, attempt.hidden, attempt.ideas)
        await run_in_threadpool(subject_of, attempt.hidden)
    await reason(partial(advised, reasoning, attempt))
    await reason(partial(unseeing, reasoning, attempt, len(attempt.tables)))
    if not attempt.steps:
        for most in range(1, MOST_TRIALS + 1):  # one more each time: others get their turn between
            await reason(partial(following_advice, reasoning, attempt.hidden, attempt.ideas, most=most))


def _address(request: Request, word: str, level: str, number: str, did: str) -> _Address:
    reasoning, weapon = cases_of(request).reasoning, weapon_of(request, word)
    with in_address():
        found = hidden_at(reasoning, weapon.name, level, number)
    return _Address(weapon.word, level, number, attempt_at(reasoning, found, did))


def _drawing(here: _Address, item: str, shown: Mapping[str, Mapping[str, str]]) -> str:
    attempt, setup = here.attempt, here.attempt.setup
    last = attempt.done[-1] if attempt.done else None
    trial = read_trial(setup, last.table, answered=False)[0] if last and last.table and last.idea else None
    marks = Marks(
        trial=trial,
        chosen=item or None,
        lamps={side: {lamp: LIT[manner] for lamp, manner in lamps.items()} for side, lamps in shown.items()},
        hidden=[each.id for each in setup.items.values() if each.tool],
    )
    return strip_svg(setup, marks, link=_touching(here, setup))


def _touching(here: _Address, setup: Setup) -> Callable[[str], str | None]:
    """Return what gives the address that shows what can be done at an item."""
    return lambda name: here.page(at=name) + "#do" if name in setup.items else None
