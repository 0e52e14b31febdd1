"""Verdicts and budgets in; JSON out (docs/json.md)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from foible.services.control.budgets import Budgets
    from foible.services.control.verdicts import Verdict

__all__ = ["budgets_json", "verdict_json"]


def verdict_json(said: Verdict) -> dict[str, Any]:
    """Return what a reading comes to."""
    return {
        "schema": "foible.verdict/1",
        "requirement": said.requirement.id,
        "edition": said.requirement.edition,
        "limit": said.requirement.figure,
        "clause": said.requirement.clause,
        "unit": said.requirement.unit,
        "instrument": said.instrument.name,
        "reading": said.reading,
        "value": said.value,
        "u": said.u,
        "parts": {part.name: part.u for part in said.instrument.parts(said.value)},
        "rule": said.rule.value,
        "risk": said.risk,
        "outcome": said.conformity.outcome,
        "conforms": said.conformity.conforms,
        "false_pass": said.conformity.false_pass,
        "false_fail": said.conformity.false_fail,
        "advice": said.advice,
    }


def budgets_json(said: Budgets) -> dict[str, Any]:
    """Return the budget of every way of the current at a weapon."""
    return {
        "schema": "foible.budget/1",
        "weapon": said.weapon,
        "edition": said.edition,
        "meter": said.meter.name,
        "ways": [
            {
                "name": each.way.name,
                "words": each.way.words,
                "total": each.total,
                "u": each.u,
                "whole": each.whole,
                "legal": each.legal,
                "stands": each.stands,
                "stands_clause": each.way.stands.clause if each.way.stands else None,
                "lines": [
                    {
                        "part": line.name,
                        "read": line.measured.ohms if line.measured else None,
                        "u": line.measured.u if line.measured else None,
                        "limit": line.limit,
                        "clause": line.requirement.clause,
                        "over": line.over,
                        "share": line.share,
                    }
                    for line in each.lines
                ],
            }
            for each in said.ways
        ],
    }
