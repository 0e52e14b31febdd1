"""Diagnoses and scores in, JSON out. docs/json.md describes the shape; `schema` names its version."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Iterable

    from foible.diagnosis import Advice, Decision, Ending, Explanation, Suspect
    from foible.kit import Renamed
    from foible.rules import Judgement, Ruling
    from foible.services.acting import Act
    from foible.services.kept_reading import Unread
    from foible.services.proving import Proving
    from foible.services.reasoning import LampRow
    from foible.services.scoring import Score
    from foible.services.verdict import Diagnosis, Verdict

__all__ = ["diagnosis_json", "explanation_json", "lamps_json", "notices_json", "proof_json", "score_json", "unread_json"]


def diagnosis_json(diagnosis: Diagnosis, verdict: Verdict, top: int) -> dict[str, Any]:
    """Return a diagnosis with its verdict, and the first `top` items, pairs and next trials."""
    finding, rest = diagnosis.finding, verdict.rest
    why = diagnosis.why
    items = diagnosis.case.setup.items
    return {
        "schema": "foible.diagnosis/2",
        "title": diagnosis.case.title,
        "weapon": diagnosis.case.setup.weapon,
        "profile": diagnosis.case.profile.name,
        "trials": len(diagnosis.trials),
        "suspects": [_suspect(line.suspect) for line in verdict.suspects],
        "items": [
            {"item": share.name, "probability": _rounded(share.probability), "exchange_s": items[share.name].exchange_s}
            for share in finding.items[:top]
        ],
        "other_parts": _rounded(rest.others),
        "nothing_wrong": _rounded(rest.sound),
        "not_in_this_model": _rounded(rest.unknown),
        "two_at_once": _rounded(rest.two),
        "pairs_left_out": _rounded(rest.left_out),
        "pairs": [
            {"parts": [first, second], "probability": _rounded(chance)} for first, second, chance in finding.belief.by_pair(top)
        ],
        "misread": [{"trial": number + 1, "probability": _rounded(chance)} for number, chance in verdict.doubts.misread],
        "alike": [
            {"parts": list(group.parts), "repairs": list(group.repairs), "splits": group.splits.say if group.splits else None}
            for group in verdict.doubts.alike
        ],
        "place": diagnosis.decision.mode.value,
        "alone": diagnosis.alone,
        "limits": [_limit(number, judgement) for number, judgement in diagnosis.judgements],
        "referee": [_ruling(ruling) for ruling in verdict.referee],
        "act": _act(diagnosis.decision, diagnosis.ending, verdict.act),
        "next": [_advice(advice) for advice in diagnosis.advice[:top]],
        "why": None
        if why is None
        else {"suspect": why.suspect.part, "trial": why.trial + 1, **explanation_json(why.explanation)},
        "notices": notices_json(diagnosis.case.notices),
    }


def _limit(number: int, judgement: Judgement) -> dict[str, Any]:
    return {
        "trial": number + 1,
        "kept": judgement.kept,
        "words": judgement.words,
        "clause": judgement.limit.table.clause,
        "limit": judgement.limit.text,
        "edition": judgement.limit.edition,
    }


def _ruling(ruling: Ruling) -> dict[str, Any]:
    return {
        "asks": ruling.asks,
        "question": ruling.question,
        "say": ruling.say,
        "clause": ruling.clause,
        "edition": ruling.edition,
        "derived": ruling.derived,
    }


def _suspect(suspect: Suspect) -> dict[str, Any]:
    return {
        "part": suspect.part,
        "item": suspect.item,
        "probability": _rounded(suspect.probability),
        "mode": suspect.failure.mode,
        "repair": suspect.failure.repair,
        "ohms": _ohms(suspect.ohms),
        "ohms_range": [_ohms(edge) for edge in suspect.ohms_range],
        "comes_and_goes": _rounded(suspect.intermittent),
    }


def _act(decision: Decision, ending: Ending, act: Act | None) -> dict[str, Any]:
    return {
        "now": decision.enough,
        "words": act.words if act else None,
        "why": (act.why or None) if act else None,
        "on": decision.named.name,
        "ending": [{"kind": deed.kind.value, "item": deed.item, "repair": deed.repair} for deed in ending.acts],
        "done": ending.done,
        "probability": _rounded(ending.chance),
        "cost_s": _rounded(decision.stop_s),
    }


def _advice(advice: Advice) -> dict[str, Any]:
    return {
        "say": advice.idea.say,
        "proves": advice.proves,
        "seconds": advice.idea.seconds,
        "bits": _rounded(advice.bits),
        "bits_per_second": _rounded(advice.bits_per_second),
        "cost_s": _rounded(advice.cost_s),
        "trial": {k: v for k, v in advice.idea.table.model_dump(mode="json", exclude_defaults=True).items() if v},
    }


def proof_json(proving: Proving | None) -> dict[str, Any] | None:
    """Return what was put right last and how its proof stands; None where nothing was."""
    if proving is None:
        return None
    lines = [
        {
            "say": line.say,
            "shows": line.shows,
            "times": line.times,
            "seconds": line.seconds,
            "trials": [idea.say for idea in line.ideas],
            "state": line.state.value,
        }
        for line in proving.lines
    ]
    return {
        "exchanged": list(proving.exchanged),
        "mended": list(proving.mended),
        "lines": lines,
        "passed": proving.passed,
        "failed": proving.failed,
        "before": _rounded(proving.before),
        "after": _rounded(proving.after),
        "ending": proving.ending.value,
    }


def notices_json(notices: Iterable[Renamed]) -> list[dict[str, Any]]:
    """Return former names that were read as today's."""
    return [{"what": each.what, "was": each.was, "now": each.now, "since": each.since, "text": str(each)} for each in notices]


def unread_json(unread: Iterable[Unread]) -> list[dict[str, Any]]:
    """Return the lines of a kept case that the kit of today cannot read."""
    return [
        {"entry": each.number, "done": each.text, "seen": each.seen, "problems": list(each.problems), "text": each.words}
        for each in unread
    ]


def lamps_json(name: str, rows: list[LampRow]) -> dict[str, Any]:
    """Return what lights in every trial."""
    return {
        "schema": "foible.lamps/1",
        "failure": name,
        "trials": [
            {"say": row.idea.say, "left": explanation_json(row.left), "right": explanation_json(row.right)} for row in rows
        ],
    }


def score_json(score: Score) -> dict[str, Any]:
    """Return how a folder of cases came out."""
    return {
        "schema": "foible.score/1",
        "cases": [
            {
                "name": case.name,
                "part_rank": case.part_rank,
                "item_rank": case.item_rank,
                "first_suspect": case.top_part,
                "first_item": case.top_item,
                "unexplained": case.unexplained or None,
                "notices": notices_json(case.case.notices),
            }
            for case in score.cases
        ],
        "expressible": len(score.expressible),
        "part_among_first_three": _rounded(score.part_share),
        "item_first": _rounded(score.item_share),
    }


def explanation_json(explanation: Explanation) -> dict[str, Any]:
    """Return what one side's lamps do in a trial, and why."""
    return {
        "side": explanation.side,
        "lamps": {lamp: _rounded(chance) for lamp, chance in explanation.lamps.items()},
        "text": explanation.text,
        "circuits": [
            {
                "name": circuit.name,
                "ohms": _ohms(circuit.ohms),
                "way": list(circuit.way),
                "cuts": list(circuit.cuts),
            }
            for circuit in explanation.circuits
        ],
    }


def _ohms(value: float) -> float | None:
    return None if math.isinf(value) or math.isnan(value) else round(value, 3)


def _rounded(value: float) -> float:
    return round(value, 5)
