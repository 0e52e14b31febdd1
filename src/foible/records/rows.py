"""Rows of the tables in, cases as plain values out."""

from __future__ import annotations

from typing import Any

from foible.endings import ending_named
from foible.records.case import CaseHead, Entry, EntryKind, KeptCase
from foible.records.tables import CaseRow

__all__ = ["HEAD", "head_of", "kept_of"]

HEAD = (
    CaseRow.id,
    CaseRow.title,
    CaseRow.piste,
    CaseRow.fencer,
    CaseRow.weapon,
    CaseRow.complaint,
    CaseRow.place,
    CaseRow.item,
    CaseRow.tools,
    CaseRow.version,
    CaseRow.opened,
    CaseRow.changed,
    CaseRow.closed,
    CaseRow.ending,
    CaseRow.ended_with,
)
"""The columns of a head. Trials are counted separately, or a database would count those of all cases before the stretch, too."""


def head_of(row: Any, trials: int) -> CaseHead:  # noqa: ANN401 — a row of the columns in HEAD
    """Return what a list shows of a case; `row` has the columns of `HEAD`."""
    return CaseHead(**row._asdict() | {"tools": tuple(row.tools), **_ended(row), "trials": trials})


def _ended(row: Any) -> dict[str, Any]:  # noqa: ANN401 — a whole row, or one of the columns in HEAD
    """Return whether, when and how a case ended."""
    return {
        "closed": row.closed is not None,
        "ended": row.closed,
        "ending": row.ending and ending_named(row.ending),
        "ended_with": tuple(row.ended_with),
    }


def kept_of(row: CaseRow) -> KeptCase:
    """Return a case with everything said in it."""
    return KeptCase(
        id=row.id,
        title=row.title,
        piste=row.piste,
        fencer=row.fencer,
        weapon=row.weapon,
        complaint=row.complaint,
        place=row.place,
        item=row.item,
        tools=tuple(row.tools),
        version=row.version,
        opened=row.opened,
        changed=row.changed,
        **_ended(row),
        fitted=row.fitted,
        known_good=tuple(row.known_good),
        facts=tuple(row.facts),
        profile=row.profile,
        source=row.source,
        expect=row.expect,
        entries=tuple(
            Entry(
                number=entry.number,
                kind=EntryKind(entry.kind),
                say=entry.say,
                trial=entry.trial,
                by=entry.by,
                names=entry.names,
                at=entry.at,
                taken_back=entry.taken_back is not None,
                token=entry.token,
                photo=entry.photo,
            )
            for entry in row.entries
        ),
    )
