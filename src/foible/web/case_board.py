"""The board of a case: a change saved at once, and where the case stands drawn as a page or as the part of one."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import quote

from foible.drawing import Marks, how_svg, item_svg, strip_svg
from foible.facts import FACTS
from foible.kit import SIDES
from foible.output.words import held_words
from foible.services.fitting import slots_in
from foible.services.looking_over import looks_besides
from foible.services.on_the_bench import lying, thing_words, this_words
from foible.situation import TOOLS, Mode
from foible.trials import box_pairs, report_key, signs_of
from foible.web.last_time import OF_THE_HALL
from foible.web.quick_answers import joint_answers, quick_answers
from foible.web.shared import cases_of, drawn, hub_of, is_partial, priority_of, redirect, render
from foible.web.views import Board, Stage, board, earth_lamp_known

if TYPE_CHECKING:
    from collections.abc import Callable

    from fastapi import Request
    from starlette.responses import HTMLResponse, Response

    from foible.records import KeptCase
    from foible.services.cases import Standing
    from foible.trials import Idea

__all__ = ["changed", "show_board"]

LONG_S = 15.0
"""A trial that takes less time than this is over before its time is read, and watching and tapping take as long [s]."""


async def changed(request: Request, change: Callable[[], KeptCase]) -> Response:
    """Save a change at once, notify the other devices, and show where the case stands once it is its turn."""
    kept = await priority_of(request).take(change)
    hub_of(request).tell(kept.id, kept.version)
    if not is_partial(request):
        return redirect(request, f"/cases/{kept.id}")
    return await priority_of(request).reason(lambda: show_board(request, cases_of(request).standing_of(kept), say=None))


def show_board(request: Request, standing: Standing, *, say: str | None) -> HTMLResponse:
    """Return the page of a case, or its board alone; `say` picks a trial other than the one to make first."""
    cases = cases_of(request)
    view = board(cases, standing, say)
    idea, setup, picked = view.idea, standing.case.setup, say is not None
    lies = standing.kept.item if standing.situation.mode is Mode.BENCH else None
    return render(
        request,
        "_board.html" if is_partial(request) else "case.html",
        standing=standing,
        view=view,
        stages=Stage,
        idea=idea,
        picked=picked,
        key=report_key(idea) if idea else None,
        quick=quick_answers(standing, idea),
        joints=joint_answers(standing, cases.reasoning.ideas(setup), idea),
        lacking=next((tool for tool in idea.needs if tool in standing.situation.tools), None) if idea else None,
        besides=looks_besides(standing, idea) if idea and not picked else (),
        why=cases.reasoning_of(standing).why_now(standing.diagnosis, idea) if idea else "",
        here=lambda words: held_words(this_words(words, setup, lies)),
        lying=lying(setup),
        thing=thing_words(setup, lies) if lies else "",
        weapons={weapon.word: weapon.name for weapon in cases.reasoning.weapons()},
        lasting=OF_THE_HALL,
        long_s=LONG_S,
        again_exchanged=_same_exchange(view),
        alone=_alone(standing, lies),
        signs=signs_of(standing.case.setup, idea) if idea else (),
        pairs=box_pairs(standing.case.setup, idea.trial.box) if idea and idea.trial.box else (),
        there=earth_lamp_known(standing),
        lamps=standing.case.setup.kind.lamps,
        sides=SIDES,
        slots=slots_in(cases, standing.kept),
        tools=TOOLS,
        facts=FACTS,
        drawing=drawn(_picture(standing, idea)),
    )


def _picture(standing: Standing, idea: Idea | None) -> str:
    """Return what lies on the bench with the tool at it, or at the piste the strip; above either, how the trial is made."""
    setup, name = standing.case.setup, standing.kept.id
    item = _on_bench(standing, idea)
    how = how_svg(setup, idea.trial, bench=item) if idea else ""
    if item is None:
        return how + _strip(standing, idea)
    parts = {suspect.part: suspect.probability for suspect in standing.diagnosis.finding.suspects if suspect.item == item}
    marks = Marks(parts if standing.case.trials else {}, trial=idea.trial if idea else None)

    def link(thing: str) -> str | None:
        return f"/cases/{name}/suspects/{quote(thing)}" if thing in parts else None

    return how + item_svg(setup, item, marks, link=link)


def _on_bench(standing: Standing, idea: Idea | None) -> str | None:
    """Return the item that lies on the bench: the one that was put there, tried next, or suspected most; None at the piste."""
    if standing.kept.place != Mode.BENCH.value:
        return None
    items = standing.diagnosis.finding.items
    return standing.kept.item or (idea.item if idea else None) or (items[0].name if items else None)


def _same_exchange(view: Board) -> bool:
    """Return whether the trial that is asked for exchanges what the band asks to exchange: then it is said which is which."""
    if view.idea is None or view.verdict.act is None:
        return False
    return any(act.item in view.idea.trial.swapped for act in view.verdict.act.ending.acts if act.item)


def _alone(standing: Standing, lies: str | None) -> str:
    """Return the item that is alone in question, as a phrase; "" where several are, or where the bench says it anyway."""
    item = standing.diagnosis.alone
    return f"the {item}" if item and item != lies else ""


def _strip(standing: Standing, idea: Idea | None) -> str:
    finding = standing.diagnosis.finding
    suspicion = {share.name: share.probability for share in finding.items}
    name = standing.kept.id
    shown = suspicion if standing.case.trials else {}
    marks = Marks(shown, trial=idea.trial if idea else None, hidden=standing.diagnosis.hidden)
    return strip_svg(
        standing.case.setup,
        marks,
        link=lambda thing: f"/cases/{name}/items/{quote(thing)}" if thing in standing.case.setup.items else None,
    )
