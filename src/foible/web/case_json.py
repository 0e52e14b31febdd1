"""A kept case in, what the API says of it out; and a change saved before anything is reasoned."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Annotated, Any

from fastapi import APIRouter, Path

from foible.output.asjson import diagnosis_json, notices_json, proof_json, unread_json
from foible.services.kept_reading import UnreadableCaseError
from foible.web.failures import ErrorShape
from foible.web.shared import cases_of, hub_of, names_of, priority_of

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from fastapi import Request

    from foible.kit import Renamed
    from foible.records import CaseHead, Entry, KeptCase
    from foible.services.cases import Cases
    from foible.services.given_names import GivenNames

    Change = Callable[[Cases, GivenNames], KeptCase]

__all__ = ["ERRORS", "TOP", "CaseName", "changed_json", "head_json", "router", "whole_json"]

ERRORS: dict[int | str, dict[str, Any]] = {
    status: {"model": ErrorShape, "description": words}
    for status, words in {
        400: "The body cannot be read",
        401: "The device has not joined",
        403: "Refused",
        404: "Not found",
        413: "The body is too long",
        422: "A value cannot be used",
        503: "The change could not be saved",
    }.items()
}
router = APIRouter(prefix="/api", responses=ERRORS)
"""What `api` and `ending_api` answer with."""
TOP = 10
"""Suspects and next trials in an answer, by default."""
CaseName = Annotated[str, Path(max_length=20)]


async def changed_json(request: Request, change: Change) -> dict[str, Any]:
    """Save a change at once, notify the other devices, and return the case once its turn to be reasoned about has come."""
    given = names_of(request)
    kept = await priority_of(request).take(partial(change, cases_of(request), given))
    hub_of(request).tell(kept.id, kept.version)
    return await priority_of(request).reason(partial(whole_json, request, kept, notices=given.notices))


def head_json(kept: KeptCase | CaseHead) -> dict[str, Any]:
    """Return what a list has of a case."""
    return {
        "id": kept.id,
        "title": kept.title,
        "piste": kept.piste,
        "fencer": kept.fencer,
        "weapon": kept.weapon,
        "complaint": kept.complaint,
        "place": kept.place,
        "item": kept.item,
        "tools": list(kept.tools),
        "version": kept.version,
        "opened": kept.opened.isoformat(),
        "changed": kept.changed.isoformat(),
        "closed": kept.closed,
        "ended": kept.ended and kept.ended.isoformat(),
        "ending": kept.ending and kept.ending.value,
        "ended_with": list(kept.ended_with),
    }


def whole_json(request: Request, kept: KeptCase, top: int = TOP, notices: Sequence[Renamed] = ()) -> dict[str, Any]:
    """Return a case; one of a weapon that the kit does not have without a diagnosis."""
    cases = cases_of(request)
    whole = {
        **head_json(kept),
        "fitted": {side: dict(slots) for side, slots in kept.fitted.items()},
        "known_good": list(kept.known_good),
        "facts": list(kept.facts),
        "profile": kept.profile,
        "source": kept.source,
        "expect": kept.expect and dict(kept.expect),
        "entries": [_entry(kept.id, entry) for entry in kept.entries],
    }
    try:
        standing = cases.standing_of(kept)
    except UnreadableCaseError as error:
        return {**whole, "diagnosis": None, "proof": None, "unread": unread_json(error.lines), "notices": notices_json(notices)}
    return {
        **whole,
        "diagnosis": diagnosis_json(standing.diagnosis, cases.reasoning_of(standing).verdict(standing.diagnosis, top), top),
        "proof": proof_json(cases.proving(standing)),
        "unread": unread_json(standing.unread),
        "notices": notices_json(dict.fromkeys((*notices, *standing.notices))),
    }


def _entry(case: str, entry: Entry) -> dict[str, Any]:
    return {
        "number": entry.number,
        "kind": entry.kind.value,
        "say": entry.say,
        "trial": dict(entry.trial),
        "by": entry.by,
        "names": entry.names,
        "at": entry.at.isoformat(),
        "taken_back": entry.taken_back,
        "photo": f"/api/cases/{case}/photos/{entry.number}" if entry.photo and not entry.taken_back else None,
    }
