"""What the rulebook says, and how editions differ, in; JSON out (docs/json.md)."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.rules import Difference, Requirement
    from foible.services.rulebook import Answer, Beside, RulesSaid

__all__ = ["differences_json", "rules_json"]


def rules_json(said: RulesSaid) -> dict[str, Any]:
    """Return what an edition says to what was asked."""
    return {
        "schema": "foible.rules/1",
        "edition": said.edition.id,
        "title": said.edition.title,
        "total": said.total,
        "requirements": [_answer_json(each) for each in said.answers],
        "near": list(said.near),
    }


def differences_json(first: str, second: str, found: Sequence[Difference]) -> dict[str, Any]:
    """Return what two editions have otherwise; `first` and `second` are their names."""
    return {
        "schema": "foible.rules-difference/1",
        "first": first,
        "second": second,
        "differences": [
            {
                "id": each.id,
                "what": each.what,
                "otherwise": list(each.otherwise),
                "why": each.why,
                "was": each.was and _requirement_json(each.was),
                "now": each.now and _requirement_json(each.now),
            }
            for each in found
        ],
    }


def _answer_json(answer: Answer) -> dict[str, Any]:
    return {
        **_requirement_json(answer.requirement),
        "slips": list(answer.slips),
        "gaps": list(answer.gaps),
        "beside": [_beside_json(each) for each in answer.beside],
    }


def _beside_json(beside: Beside) -> dict[str, Any]:
    other = beside.requirement
    return {
        "title": beside.title,
        "same": beside.same,
        "quantity": other and other.quantity,
        "figure": other and other.figure,
        "clause": other and other.clause,
        "why": beside.why,
    }


def _requirement_json(requirement: Requirement) -> dict[str, Any]:
    plain = (
        "id",
        "kind",
        "part",
        "quantity",
        "lower",
        "lower_open",
        "upper",
        "upper_open",
        "unit",
        "figure",
        "as_said",
        "clause",
    )
    rest = ("tool", "method", "station", "required", "note", "source", "stated_by", "confidence")
    return {
        **{name: getattr(requirement, name) for name in (*plain, *rest)},
        "weapons": list(requirement.weapons),
        "also": list(requirement.also),
    }
