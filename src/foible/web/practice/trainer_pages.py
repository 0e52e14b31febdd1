"""Requests of whoever trains others in; out, pages on which a fault is made by hand, and the address that hides it.

An address of these pages says what was chosen, for they are the trainer's own; the address that they give does not.
"""

from __future__ import annotations

import io
from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlencode

import segno
from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.drawing import Marks, item_svg, part_svg, strip_svg
from foible.errors import InputError
from foible.services.practice.strip import HIGHEST, MOST_MADE
from foible.services.practice.trainer import BEHAVIOURS, behaviours, chosen_fault, made_by_hand, severities
from foible.web.lanes import looks_up
from foible.web.shared import cases_of, drawn, render, settings_of, weapon_of

if TYPE_CHECKING:
    from collections.abc import Callable

    from markupsafe import Markup

    from foible.diagnosis import StagedFault
    from foible.kit import Failure, Setup

__all__ = ["code_of", "failures_by_item", "router"]

router = APIRouter(include_in_schema=False, prefix="/practice/trainer")
Names = Annotated[list[str], Query(max_length=4)]
Numbers = Annotated[list[str], Query(max_length=4)]
Named = Annotated[str, Query(max_length=160)]


@dataclass(frozen=True)
class _Chosen:
    """What the address of the page says: what is wrong so far, and where one is in choosing."""

    word: str
    setup: Setup
    faults: tuple[StagedFault, ...]
    seed: int

    @property
    def _query(self) -> list[tuple[str, str]]:
        found = []
        for fault in self.faults:
            found += [("failure", fault.failure.id), ("step", str(self.step(fault))), ("behaves", str(int(fault.activity)))]
        return [*found, ("seed", str(self.seed))]

    def page(self, **more: str) -> str:
        """Return the address with something more in it, which may stand in for what is there."""
        kept = [each for each in self._query if each[0] not in more]
        return f"/practice/trainer/{self.word}?" + urlencode([*kept, *more.items()])

    def with_failure(self, failure: Failure) -> str:
        """Return the address with one failure more, as it usually is."""
        fault = chosen_fault(self.setup, failure.id)
        return _Chosen(self.word, self.setup, (*self.faults, fault), self.seed).page()

    def without(self, fault: StagedFault) -> str:
        """Return the address with one failure less."""
        return _Chosen(self.word, self.setup, tuple(each for each in self.faults if each is not fault), self.seed).page()

    def step(self, fault: StagedFault) -> int:
        """Return which step of its ladder a fault has."""
        ladder = [ohms for ohms, _ in fault.failure.ladder]
        return ladder.index(fault.ohms) if fault.ohms in ladder else 0

    def link(self, key: str) -> Callable[[str], str | None]:
        """Return what gives the address of an item or a part of the picture."""
        known = self.setup.items if key == "item" else self.setup.parts

        def address(name: str) -> str | None:
            return self.page(more="1", **{key: name}) if name in known else None

        return address


@router.get("/{word}")
@looks_up
def trainer(
    request: Request,
    word: str,
    failure: Names = [],  # noqa: B006 — FastAPI copies it
    step: Numbers = [],  # noqa: B006
    behaves: Numbers = [],  # noqa: B006
    item: Named = "",
    part: Named = "",
    seed: Annotated[int, Query(ge=0, lt=HIGHEST)] = 1,
    more: Annotated[str, Query(max_length=1)] = "",
) -> HTMLResponse:
    """Show what can be broken, then how badly, then the address that hides it, with its code and what the fencer says."""
    reasoning, weapon = cases_of(request).reasoning, weapon_of(request, word)
    setup = reasoning.setup(weapon.name)
    here = _Chosen(weapon.word, setup, _faults(setup, failure, step, behaves), seed)
    values: dict[str, object] = {"here": here, "setup": setup, "weapon": weapon.name, "room": len(here.faults) < MOST_MADE}
    values["picking"] = not here.faults or (bool(more) and len(here.faults) < MOST_MADE)
    values["part"] = setup.parts[setup.parts.name(part)] if part else None
    values["item"] = setup.items[setup.parts[setup.parts.name(part)].item] if part else setup.items[item] if item else None
    if values["picking"]:
        picture = _picture(here, item, part)
        return render(request, "practice/trainer.html", **values, picture=drawn(picture), groups=failures_by_item(setup))  # type: ignore[arg-type]
    made = made_by_hand(reasoning, weapon.name, here.faults, seed)
    address = address_for_others(request, made.address)
    offered = [(fault, severities(fault.failure), behaviours(fault.failure)) for fault in here.faults]
    values |= {"made": made, "offered": offered, "link": address, "code": code_of(address), "words": BEHAVIOURS}
    return render(request, "practice/trainer.html", **values)  # type: ignore[arg-type]


def address_for_others(request: Request, path: str) -> str:
    """Return a whole address that another device can open: where devices join is what they know this machine by."""
    join = settings_of(request).join
    base = join.partition("#")[0].rstrip("/").removesuffix("/join") if join else str(request.base_url).rstrip("/")
    return base + path


def code_of(address: str) -> Markup:
    """Return an address as a code to scan."""
    out = io.BytesIO()
    made = segno.make(address, error="m")
    made.save(out, kind="svg", xmldecl=False, svgclass="code", lineclass=None, border=4, omitsize=True, light="#fff", dark="#000")
    return drawn(out.getvalue().decode())


def failures_by_item(setup: Setup) -> dict[str, list[Failure]]:
    """Return every failure, by item."""
    groups: dict[str, list[Failure]] = {}
    for failure in setup.failures.values():
        groups.setdefault(failure.item, []).append(failure)
    return groups


def _faults(setup: Setup, names: list[str], steps: list[str], behave: list[str]) -> tuple[StagedFault, ...]:
    """Return the faults that lists of an address name side by side; what is missing is as usual. Raises InputError."""
    given = [name for name in names if name]
    if len(set(given)) < len(given) or len(given) > MOST_MADE:
        raise InputError(seen=f"{len(given)} failures were chosen", remedy=f"choose one, or {MOST_MADE} that differ")
    return tuple(chosen_fault(setup, name, _number(steps, place), _number(behave, place)) for place, name in enumerate(given))


def _number(given: list[str], place: int) -> int | None:
    if place >= len(given) or not given[place]:
        return None
    if not given[place].isascii() or not given[place].isdigit():
        raise InputError(seen=f"“{given[place]}” is no number", remedy="choose one of those offered")
    return int(given[place])


def _picture(here: _Chosen, item: str, part: str) -> str:
    """Return the strip, then the item that was touched, then the part."""
    if part:
        name = here.setup.parts.name(part)
        return part_svg(here.setup, name, Marks(chosen=name), link=here.link("part"))
    if item:
        return item_svg(here.setup, here.setup.items.name(item), link=here.link("part"))
    failed = {name: each.failure.mode for each in here.faults for name in (each.failure.part, each.failure.item)}
    tools = [each.id for each in here.setup.items.values() if each.tool]
    return strip_svg(here.setup, Marks(failed=failed, hidden=tools), link=here.link("item"))
