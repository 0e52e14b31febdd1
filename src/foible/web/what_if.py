"""A touched item, part and failure in; out, the page that shows what would light, and the pictures by which one gets there."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Annotated
from urllib.parse import urlencode

from fastapi import APIRouter, Query, Request
from starlette.responses import HTMLResponse  # noqa: TC002 — FastAPI reads the annotation

from foible.drawing import Marks, item_svg, part_svg, strip_svg
from foible.kit import SIDES
from foible.web.lanes import reasons
from foible.web.shared import cases_of, drawn, render, weapon_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from foible.diagnosis import Explanation
    from foible.kit import Failure, Setup
    from foible.trials import Idea

__all__ = ["router"]

router = APIRouter(include_in_schema=False)
Named = Annotated[str, Query(max_length=160)]


@dataclass(frozen=True, slots=True)
class _Asked:
    """What the address of the page says."""

    setup: Setup
    failures: tuple[Failure, ...]
    item: str
    part: str
    idea: Idea
    side: str

    def link(self, key: str) -> Callable[[str], str | None]:
        """Return what gives the address of an item or a part on this page, with the trial that is shown."""
        known = self.setup.items if key == "item" else self.setup.parts

        def address(name: str) -> str | None:
            if name in known:
                return "?" + urlencode({key: name, "trial": self.idea.say})
            return "?" + urlencode({"item": name, "trial": self.idea.say}) if name in self.setup.items else None

        return address


@router.get("/what-if/{word}")
@reasons
def what_if(
    request: Request,
    word: str,
    failure: Named = "",
    second: Named = "",
    item: Named = "",
    part: Named = "",
    trial: Annotated[str, Query(max_length=200)] = "",
    side: Annotated[str, Query(max_length=10)] = "",
) -> HTMLResponse:
    """Show which lamps light in a trial with one failure, or two, and the path of the current; until one is chosen, the kit."""
    reasoning = cases_of(request).reasoning
    weapon = weapon_of(request, word).name
    setup = reasoning.setup(weapon)
    ideas = [idea for idea in reasoning.strip_ideas(weapon) if not idea.trial.examine]
    chosen = next((idea for idea in ideas if idea.say == trial), ideas[0])
    failures = tuple(setup.failures[name] for name in (failure, second) if name)
    part = failures[0].part if failures else (setup.parts.name(part) if part else "")
    item = setup.parts[part].item if part else (setup.items.name(item) if item else "")
    looked = side if side in SIDES else chosen.trial.arrangement.press or chosen.side or SIDES[0]
    asked = _Asked(setup, failures, item, part, chosen, looked)
    shown = reasoning.shown(weapon, [(each, each.usual_ohms) for each in failures], chosen)
    sound = reasoning.shown(weapon, [], chosen)
    told = {"asked": asked, "groups": _grouped(setup), "pictures": _pictures(asked, shown), "shown": shown, "sound": sound}
    return render(request, "what_if.html", weapon=weapon, word=word, ideas=ideas, sides=SIDES, **told)  # type: ignore[arg-type]


def _grouped(setup: Setup) -> dict[str, list[Failure]]:
    groups: dict[str, list[Failure]] = {}
    for failure in setup.failures.values():
        groups.setdefault(failure.item, []).append(failure)
    return groups


def _pictures(asked: _Asked, shown: Mapping[str, Explanation]) -> list[object]:
    """Return the strip to begin with, then the item that was touched, then the part; of a failure the strip and the part."""
    setup = asked.setup
    failed = {name: each.mode for each in asked.failures for name in (each.part, each.item)}
    if asked.failures:
        circuit = next((each for each in shown[asked.side].circuits if each.way), None)
        marks = Marks(
            failed=failed,
            way=circuit.way if circuit else (),
            cuts=circuit.cuts if circuit else (),
            trial=asked.idea.trial,
            chosen=asked.part,
            lamps={name: each.lamps for name, each in shown.items()},
            hidden=_tools(setup, asked),
        )
        pair = strip_svg(setup, marks, link=asked.link("item")), part_svg(setup, asked.part, marks, link=asked.link("part"))
        return [drawn(svg) for svg in pair]
    if asked.part:
        return [drawn(part_svg(setup, asked.part, Marks(chosen=asked.part), link=asked.link("part")))]
    if asked.item:
        return [drawn(item_svg(setup, asked.item, link=asked.link("part")))]
    return [drawn(strip_svg(setup, link=asked.link("item")))]


def _tools(setup: Setup, asked: _Asked) -> list[str]:
    return [item.id for item in setup.items.values() if item.tool and item.id != asked.item]
