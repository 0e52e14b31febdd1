"""A hidden fault and what was done about it in; out, a page for a projector: strip and lamps large, laid open when told.

Its addresses are those of the strip with another first word, so that whoever practises and whoever shows look at the same thing.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.drawing import Marks, strip_svg
from foible.errors import InputError
from foible.kit import SIDES
from foible.practice import Attempt, Deed, Step, written_steps
from foible.services.practice.plans import told_again
from foible.services.practice.strip import attempt_at, doable_at, hidden_at, lamps_lit
from foible.services.practice.talk import lines_about
from foible.services.practice.trainer import laid_open
from foible.trials import read_trial
from foible.web.lanes import reasons
from foible.web.shared import cases_of, drawn, in_address, render, weapon_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.services.practice.trainer import Laid

__all__ = ["router"]

router = APIRouter(include_in_schema=False, prefix="/practice/screen")
LIT = {"lit": 1.0, "flickers": 1.0, "sometimes": 1.0, "dark": 0.0}


@dataclass(frozen=True)
class _Screen:
    """Where a screen is: the fault, everything done about it, and how far it is shown."""

    fault: str
    """The address of the fault behind “/practice/strip/” or “/practice/screen/”."""
    whole: Attempt
    upto: int
    """Steps that are shown; the others come by and by."""
    opened: bool

    @property
    def attempt(self) -> Attempt:
        """The attempt as far as it is shown."""
        return Attempt(self.whole.hidden, self.whole.ideas, self.whole.steps[: self.upto])

    @property
    def did(self) -> str:
        """Everything done, as a word."""
        return written_steps(self.whole.steps)

    def page(self, *, upto: int | None = None, opened: bool | None = None, item: str = "") -> str:
        """Return the address of this screen, at another step, opened or closed, or with what can be done at an item."""
        at = self.upto if upto is None else upto
        shown = self.opened if opened is None else opened
        asked = {
            "did": self.did,
            "upto": str(at) if at < len(self.whole.steps) else "",
            "open": "1" if shown else "",
            "item": item,
        }
        query = urlencode({key: value for key, value in asked.items() if value})
        return f"/practice/screen/{self.fault}{'?' if query else ''}{query}"

    def then(self, step: Step) -> str:
        """Return the address with one step more behind those shown."""
        did = written_steps((*self.attempt.steps, step))
        return f"/practice/screen/{self.fault}?" + urlencode({"did": did, **({"open": "1"} if self.opened else {})})

    @property
    def strip(self) -> str:
        """The address of the strip with what is shown done."""
        did = written_steps(self.attempt.steps)
        return f"/practice/strip/{self.fault}" + (f"?did={did}" if did else "")


@router.get("/{word}/{level}/{number}")
@reasons
def screen(
    request: Request,
    word: str,
    level: str,
    number: str,
    did: Annotated[str, Query(max_length=600)] = "",
    upto: Annotated[int | None, Query(ge=0)] = None,
    opened: Annotated[str, Query(alias="open", max_length=1)] = "",
    item: Annotated[str, Query(max_length=80)] = "",
) -> HTMLResponse:
    """Show the strip large with what the last step showed; opened, where the current goes, what is wrong, what each step told."""
    reasoning, weapon = cases_of(request).reasoning, weapon_of(request, word)
    with in_address():
        hidden = hidden_at(reasoning, weapon.name, level, number)
    whole = attempt_at(reasoning, hidden, did)
    if upto is not None and upto > len(whole.steps):
        raise InputError(seen=f"there is no step {upto}", remedy=f"the last is {len(whole.steps)}")
    here = _Screen(f"{weapon.word}/{level}/{number}", whole, len(whole.steps) if upto is None else upto, opened == "1")
    attempt, setup = here.attempt, hidden.setup
    last = attempt.done[-1] if attempt.done else None
    laid = laid_open(reasoning, attempt, last) if here.opened and last else None
    at = setup.items.name(item) if item else ""
    again = told_again(hidden, whole.ideas)
    shown = lamps_lit(setup, last.table if last else None)
    values = {
        "here": here,
        "attempt": attempt,
        "last": last,
        "laid": laid,
        "shown": shown,
        "sides": SIDES,
        "item": at,
        "doable": doable_at(attempt, at) if at else None,
        "again": None if again is None else here.then(Step(Deed.TRIAL, again)),
        "lines": lines_about(reasoning, attempt) if here.opened and attempt.done else (),
        "drawing": drawn(_drawing(here, shown, laid, at)),
        "weapon": weapon.name,
    }
    return render(request, "practice/screen.html", **values)  # type: ignore[arg-type]


def _drawing(here: _Screen, shown: Mapping[str, Mapping[str, str]], laid: Laid | None, item: str) -> str:
    attempt, setup = here.attempt, here.attempt.setup
    last = attempt.done[-1] if attempt.done else None
    trial = read_trial(setup, last.table, answered=False)[0] if last and last.table and last.idea else None
    circuit = next((each for each in laid.sides[laid.side].circuits if each.way), None) if laid else None
    faults = attempt.hidden.faults if here.opened else ()
    marks = Marks(
        trial=trial,
        way=circuit.way if circuit else (),
        cuts=circuit.cuts if circuit else (),
        failed={name: each.failure.mode for each in faults for name in (each.failure.part, each.failure.item)},
        chosen=item or None,
        lamps={side: {lamp: LIT[manner] for lamp, manner in lamps.items()} for side, lamps in shown.items()},
        hidden=[each.id for each in setup.items.values() if each.tool],
    )
    return strip_svg(setup, marks, link=lambda name: here.page(item=name) if name in setup.items else None)
