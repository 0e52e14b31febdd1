"""What somebody wrote on a sheet in; the sheet for the records out, each figure with its verdict."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from foible.control.conformity import DecisionRule, conformity
from foible.control.shims import tolerance_of
from foible.errors import InputError
from foible.records.control import competition_by_id, instruments_of
from foible.records.control.sheets import NewSheet, add_sheet
from foible.records.register import item_by_code
from foible.services.control.entry import uncertainty_of
from foible.services.control.figures import figure
from foible.services.control.sheets import sheet_named

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from datetime import datetime
    from pathlib import Path

    from foible.records.control import Competition, Instrument
    from foible.records.control.sheets import KeptSheet
    from foible.records.register import RegisteredItem, Turn
    from foible.services.control.sheets import Sheet, SheetRowToFill

__all__ = ["FoundRow", "ToldSheet", "Written", "fill_in", "outcome_of", "told_sheet"]

RISK = 0.05
"""The risk accepted where no competition says otherwise; plain limits do not need it."""
GOOD, BAD = "good", "bad"
NOT_ALL = "not all of it"


@dataclass(frozen=True)
class Written:
    """What somebody wrote on a sheet."""

    sheet: str
    values: Mapping[str, str]
    """By field: a figure as it was typed, or “good” or “bad”; empty where nothing was said."""
    weapon: str | None = None
    item: str = ""
    """Code of the item in the register."""
    competition: int | None = None
    edition: str = "fie-2026"
    about: str = ""
    note: str = ""
    token: str | None = None


@dataclass(frozen=True)
class FoundRow:
    """A row of a sheet as it was filled in."""

    words: str
    limit: str
    found: str
    outcome: str
    conforms: float | None
    """Probability that it conforms, where there is a figure."""


@dataclass(frozen=True)
class ToldSheet:
    """A sheet as it was filled in, for people."""

    number: int
    sheet: Sheet
    which: str
    by: str
    at: datetime
    outcome: str
    decision: str
    note: str
    rows: tuple[FoundRow, ...]

    @property
    def warning(self) -> str:
        """What stands on it where it failed."""
        return self.sheet.table.failed if self.outcome == "fail" else ""


def told_sheet(kept: KeptSheet, code: str, by: str, overlays: Sequence[Path] = ()) -> ToldSheet:
    """Return a kept sheet for people; `code` of the item it is about, `by` whom it was filled in."""
    rows = tuple(
        FoundRow(each["words"], each["limit"], _said(each), each["outcome"], each.get("conforms")) for each in kept.found.values()
    )
    sheet = sheet_named(kept.sheet, kept.weapon, kept.edition, overlays)
    which = " ".join(filter(None, (code, kept.about)))
    return ToldSheet(kept.id, sheet, which, by, kept.at, kept.outcome, kept.decision, kept.note, rows)


def _said(found: Mapping[str, Any]) -> str:
    if "reading" in found:
        return f"{found['reading']:g} {found['unit']}"
    return "good" if found.get("good") else "bad"


def fill_in(turn: Turn, written: Written, *, overlays: Sequence[Path] = ()) -> KeptSheet:
    """Keep a sheet. Raises InputError with the field for what cannot be, and where nothing was written."""
    item = item_by_code(turn.session, written.item) if written.item else None
    competition = competition_by_id(turn.session, written.competition) if written.competition else None
    edition = competition.edition if competition else written.edition
    sheet = sheet_named(written.sheet, (item.weapon if item else None) or written.weapon, edition, overlays)
    _check(sheet, item, written)
    instruments = instruments_of(turn.session, competition.id) if competition else ()
    found = {}
    for field in sheet.fields:
        said = written.values.get(field.key, "").strip()
        if said:
            found[field.key] = _found(field, said, competition, instruments)
    if not found:
        raise InputError(seen="nothing was written on the sheet", remedy="fill in at least one row")
    return add_sheet(
        turn,
        NewSheet(
            sheet=sheet.name,
            edition=edition,
            decision=competition.decision if competition else DecisionRule.PLAIN.value,
            found=found,
            outcome=outcome_of([each["outcome"] for each in found.values()], whole=len(found) == len(sheet.fields)),
            weapon=sheet.weapon,
            item_id=item.id if item else None,
            competition_id=competition.id if competition else None,
            about=" ".join(written.about.split())[:120],
            note=written.note.strip(),
            token=written.token,
        ),
    )


def _check(sheet: Sheet, item: RegisteredItem | None, written: Written) -> None:
    """Raise InputError where what was written does not fit the sheet."""
    if item and item.kind != sheet.table.kind:
        raise InputError(
            seen=f"{item.code} is a {item.kind}", remedy=f"this sheet is for a {sheet.table.kind}: name another item"
        )
    if sheet.table.per_weapon and not sheet.weapon:
        raise InputError(seen="no weapon was named", remedy="say which weapon it is for: the limits differ")
    if not item and not written.about.strip():
        raise InputError(
            seen="the sheet does not say which one it is about", remedy=f"write the {sheet.table.about}, or its code"
        )
    unknown = set(written.values) - {field.key for field in sheet.fields}
    if unknown:
        raise InputError(seen=f"“{min(unknown)}” is no row of this sheet", remedy="reload the page: the edition may have changed")


def outcome_of(outcomes: Sequence[str], *, whole: bool) -> str:
    """Return what a sheet comes to: one row that fails fails it; it passes only where every row was filled in."""
    for worst in ("fail", "too close to call"):
        if worst in outcomes:
            return worst
    return "pass" if whole else NOT_ALL


def _found(
    field: SheetRowToFill, said: str, competition: Competition | None, instruments: Sequence[Instrument]
) -> dict[str, Any]:
    """Return what was found in a field, in JSON's words, with its verdict."""
    kept: dict[str, Any] = {"words": field.words, "limit": field.limit}
    if said in {GOOD, BAD}:
        return kept | {"good": said == GOOD, "outcome": "pass" if said == GOOD else "fail"}
    reading = _figure(field, said)
    kept |= {"reading": reading, "unit": field.unit}
    requirement = field.requirement
    if requirement is None or not requirement.has_figure:
        return kept | {"outcome": "noted"}
    u, _ = uncertainty_of(requirement, instruments)
    ends = tolerance_of(requirement)
    rule = DecisionRule(competition.decision) if competition else DecisionRule.PLAIN
    verdict = conformity(reading, u, ends, rule=rule, risk=competition.risk if competition else RISK)
    return kept | {"u": u, "conforms": round(verdict.conforms, 6), "outcome": verdict.outcome}


def _figure(field: SheetRowToFill, said: str) -> float:
    if not field.unit:
        raise InputError(seen=f"{field.words}: “{said[:40]}”", remedy="say whether it is good or bad")
    return figure(said, f"{field.words} [{field.unit}]")
