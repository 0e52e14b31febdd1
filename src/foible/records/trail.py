"""The trail of changes: who changed what, noted in the same transaction as the change itself, and never altered after."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from foible.records.people_tables import TrailRow

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import datetime

    from sqlalchemy.orm import Session

__all__ = ["Who", "note"]


@dataclass(frozen=True)
class Who:
    """Who makes a change: a person who has signed in, or a device on which nobody has."""

    person_id: int | None = None
    device: str = ""


def note(  # noqa: PLR0913 — what a change is
    session: Session, *, at: datetime, by: Who, kind: str, ref: int, did: str, what: Mapping[str, Any]
) -> None:
    """Add a change to the trail: of which thing, by its kind and ID, and by field from what to what."""
    session.add(TrailRow(at=at, by_id=by.person_id, device=by.device, kind=kind, ref=ref, did=did, what=dict(what)))
