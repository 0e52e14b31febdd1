"""The form of an answer in; the case with what was seen noted out: of one trial, or of several that one button speaks for."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.services.down_the_line import followed
from foible.services.looking_over import all_fine
from foible.trials import report_key
from foible.web.forms import box_report, lamp_report
from foible.web.quick_answers import JOINTS, SEPARATOR, joints_told, touched_at_once

if TYPE_CHECKING:
    from collections.abc import Mapping

    from foible.records import KeptCase
    from foible.services.cases import Cases
    from foible.trials import Idea

__all__ = ["answered"]

OVER = "also_fine"
"""The field in which a button sends the further looks that found nothing either."""


def answered(cases: Cases, name: str, form: Mapping[str, str], *, by: str) -> KeptCase:
    """Note an answer. Raises UnknownNameError, and InputError or ProblemsError where it makes no sense."""
    known, token = cases.store.case(name), form.get("token", "")
    if known.has_heard(token):
        return known
    idea = cases.asked(known, form.get("say", ""))
    if form.get(OVER):
        return all_fine(cases, known, (idea.say, *form[OVER].split(SEPARATOR)), token=token, by=by)
    if form.get(JOINTS):
        weapon, told = cases.reasoning.weapon(cases.weapon(known)), joints_told(form[JOINTS])
        made = [idea, *(cases.asked(known, say) for say in told.farther)]
        reports = [lamp_report(lit, weapon) for lit in told.lit]
        return followed(cases, known, made, reports, token=token, by=by)
    return cases.answer(known, idea, _report(cases, known, idea, form), token=token, by=by)


def _report(cases: Cases, known: KeptCase, idea: Idea, form: Mapping[str, str]) -> tuple[str, ...]:
    match report_key(idea):
        case "saw":
            return lamp_report(touched_at_once(form), cases.reasoning.weapon(cases.weapon(known)))
        case "reads":
            return (form.get("reads", ""),)
        case "found":
            return tuple(word for word in (form.get("found", ""),) if word)
        case _:
            return box_report(form)
