"""A step or a question of a lesson in; out, its picture: what is done, what can be touched, the way of the current."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.drawing import Marks, how_svg, item_svg, part_svg, strip_svg
from foible.kit import SIDES
from foible.practice.lessons.marker import explained

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from foible.diagnosis import Circuit
    from foible.kit import Setup
    from foible.practice import StepShown
    from foible.practice.lessons import LessonStep, Marked, Question, Situation
    from foible.practice.lessons.tables import PictureTable

__all__ = ["answer_picture", "answered", "asked_picture", "bulbs", "has_cut", "step_picture"]


def step_picture(setup: Setup, step: LessonStep, shown: StepShown | None) -> str:
    """Return the picture of a step: the one it names, the way of the current, or how the trial is made; "" without any."""
    named = step.table.picture
    if named and named.part:
        return part_svg(setup, named.part, Marks(chosen=setup.parts.name(named.part), named=_named(setup, named)))
    if named:
        return item_svg(setup, named.item, Marks(named=_named(setup, named)))
    if shown is not None:
        marks = Marks(
            way=shown.circuit.way,
            cuts=shown.circuit.cuts,
            trial=shown.step.trial,
            chosen=shown.step.failures[0].item if shown.step.failures else None,
            lamps=shown.lamps,
            hidden=_hidden(setup),
        )
        return strip_svg(setup, marks)
    return _done(step.situation, {}) if step.situation else ""


def asked_picture(question: Question, touched: int | None, address: str) -> str:
    """Return the picture of a question not yet answered; every choice that it shows is a link, `address` and its number."""
    setup, numbers = question.situation.setup, {choice.words: number for number, choice in enumerate(question.choices)}
    named = question.table.picture
    chosen = next((words for words, number in numbers.items() if number == touched), None)
    chosen = chosen if chosen in setup.items or chosen in setup.parts else None

    def link(name: str) -> str | None:
        return f"{address}{numbers[name]}" if name in numbers else None

    if named and named.part:
        return part_svg(setup, named.part, Marks(chosen=setup.parts.name(named.part), named=_named(setup, named)), link=link)
    if named:
        return item_svg(setup, named.item, Marks(chosen=chosen, named=_named(setup, named)), link=link)
    lamps = bulbs(question.situation) if question.marker.seen() and not _tools(question.situation) else {}
    return _done(question.situation, lamps, chosen=chosen, link=link)


def answered(question: Question, marked: Marked) -> Situation:
    """Return the situation to draw once a question is answered: that of the right choice taken, else of one that was missed."""
    right = next((choice for choice in (*marked.taken, *marked.missed) if choice.right), None)
    return question.marker.shown_by(right.answer) if right else question.situation


def has_cut(situation: Situation) -> bool:
    """Return whether the way that is drawn is cut."""
    circuit = None if _tools(situation) else _circuit(situation)
    return circuit is not None and bool(circuit.cuts)


def answer_picture(question: Question, situation: Situation) -> str:
    """Return the picture of a question that has been answered: the way of the current, and where it is cut."""
    if _tools(situation) or question.table.kind == "brings":
        return asked_picture(question, None, "?touched=") if question.table.picture else _done(situation, {})
    circuit = _circuit(situation)
    marks = Marks(
        way=circuit.way if circuit else (),
        cuts=circuit.cuts if circuit else (),
        trial=situation.trial,
        chosen=situation.failures[0].item if situation.failures else None,
        failed={each.part: each.mode for each in situation.failures},
        lamps=bulbs(situation),
        hidden=_hidden(situation.setup),
    )
    return strip_svg(situation.setup, marks)


def bulbs(situation: Situation) -> Mapping[str, Mapping[str, float]]:
    """Return the chance of each lamp by side and kind; it is certain, or the question would have been refused."""
    kinds = [lamp.kind for lamp in situation.setup.kind.lamps]
    return {side: {kind: float(f"{side} {kind}" in situation.lamps) for kind in kinds} for side in SIDES}


def _circuit(situation: Situation) -> Circuit | None:
    """Return the measurement to draw: the one asked about, else one cut by the fault, one that lights a lamp, the first."""
    found, weapon = explained(situation), situation.setup.kind
    side, name = situation.side, situation.circuit
    failed = {failure.part for failure in situation.failures}
    at_fault = [each for one in SIDES for each in found[one].circuits if each.way and not failed.isdisjoint(each.cuts)]
    if not name and at_fault:
        return at_fault[0]
    if not name:
        lit = [(one, lamp) for one in SIDES for lamp in weapon.lamps if f"{one} {lamp.kind}" in situation.lamps]
        side = lit[0][0] if lit else situation.trial.arrangement.press or side
        conditions = lit[0][1].lights if lit else ()
        name = next((each.of for each in reversed(conditions) if each.state == "closed"), weapon.measurements[0].name)
    return next((each for each in found[side].circuits if each.name == name and each.way), None)


def _done(
    situation: Situation,
    lamps: Mapping[str, Mapping[str, float]],
    *,
    chosen: str | None = None,
    link: Callable[[str], str | None] = lambda _: None,
) -> str:
    """Return the picture of what is done: a tool at the item it is held to, else the whole strip."""
    if _tools(situation):
        return how_svg(situation.setup, situation.trial)
    marks = Marks(trial=situation.trial, chosen=chosen, lamps=lamps, hidden=_hidden(situation.setup))
    return strip_svg(situation.setup, marks, link=link)


def _named(setup: Setup, picture: PictureTable) -> list[str]:
    return [setup.parts.name(name) for name in picture.names]


def _tools(situation: Situation) -> bool:
    return bool(situation.trial.meter or situation.trial.box or situation.trial.gauge)


def _hidden(setup: Setup) -> list[str]:
    return [item.id for item in setup.items.values() if item.tool or item.handling]
