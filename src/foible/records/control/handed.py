"""Entrants of a competition and what they hand in. Functions of one transaction, which the trail tells of."""

from __future__ import annotations

from dataclasses import fields
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select

from foible.errors import InputError, NotFoundError
from foible.records.control.values import Entrant, HandedIn, HandedInState
from foible.records.control_tables import CompetitionRow, ControlEntryRow, ControlMarkRow, EntrantRow, HandedInRow, StationRow
from foible.records.people_tables import PersonRow
from foible.records.register.turn import change_row, made_by_token
from foible.records.tables import folded

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlalchemy.orm import Session

    from foible.records.control.values import NewEntrant, NewHandedIn
    from foible.records.register.turn import Turn

__all__ = [
    "add_entrant", "change_handed_in", "entrant_by_id", "entrants", "entrants_found", "hand_in", "handed_in_at",
    "handed_in_by_id", "handed_in_row", "hold", "items_at", "items_of_entrants", "locked_items", "no_such_item", "seen_before",
    "unmarked_items", "untouched_by",
]  # fmt: skip

TO_TEST = [state.value for state in HandedInState if state.to_test]
MOST_ENTRANTS = 2000
MOST_ITEMS = 40
"""Items of one fencer: far above any quota, so that what is over it can still be noted."""


def entrant_by_id(session: Session, number: int) -> Entrant:
    """Return an entrant. Raises NotFoundError."""
    row = session.get(EntrantRow, number)
    if row is None:
        raise NotFoundError(what="entrant", name=str(number), known=())
    return _entrant(row)


def entrants(session: Session, competition: int) -> tuple[Entrant, ...]:
    """Return the entrants of a competition by their number."""
    chosen = select(EntrantRow).where(EntrantRow.competition_id == competition).order_by(EntrantRow.number, EntrantRow.id)
    return tuple(map(_entrant, session.scalars(chosen)))


def entrants_found(session: Session, competition: int, words: str, *, limit: int = 30) -> tuple[Entrant, ...]:
    """Return the entrants whose number, or name and club, the words are, by number."""
    chosen = select(EntrantRow).join(PersonRow, PersonRow.id == EntrantRow.person_id)
    chosen = chosen.where(EntrantRow.competition_id == competition).order_by(EntrantRow.number).limit(limit)
    bare = words.strip()
    if bare.isdecimal() and len(bare) < 10:  # noqa: PLR2004 — a number that a column holds
        return tuple(map(_entrant, session.scalars(chosen.where(EntrantRow.number == int(bare)))))
    for word in folded(words).split():
        chosen = chosen.where(PersonRow.words.contains(word, autoescape=True))
    return tuple(map(_entrant, session.scalars(chosen)))


def add_entrant(turn: Turn, competition: int, new: NewEntrant) -> Entrant:
    """Enter a fencer; whoever is entered already is entered once. Raises NotFoundError and InputError."""
    known = made_by_token(turn, EntrantRow, new.token)
    if known:
        return _entrant(known)
    if turn.session.get(CompetitionRow, competition, with_for_update=True) is None:
        raise NotFoundError(what="competition", name=str(competition), known=())
    person = turn.session.get(PersonRow, new.person_id)
    if person is None or person.erased is not None:
        raise InputError(seen=f"nobody here has the number {new.person_id}", remedy="name one of the people")
    of_this = EntrantRow.competition_id == competition
    there = turn.session.scalars(select(EntrantRow).where(of_this, EntrantRow.person_id == new.person_id)).one_or_none()
    if there:
        return _entrant(there)
    count, last = turn.session.execute(select(func.count(), func.max(EntrantRow.number)).where(of_this)).one()
    if count >= MOST_ENTRANTS:
        raise InputError(seen=f"the competition has {count} fencers already", remedy="open another one")
    if new.number is not None and turn.session.scalar(select(EntrantRow.id).where(of_this, EntrantRow.number == new.number)):
        raise InputError(seen=f"number {new.number} is taken at this competition", remedy="give another, or leave it out")
    number = (last or 0) + 1 if new.number is None else new.number
    row = EntrantRow(
        competition_id=competition, person_id=new.person_id, number=number, weapons=list(new.weapons), came=None,
        version=1, changed=turn.at, token=new.token,
    )  # fmt: skip
    turn.session.add(row)
    turn.session.flush()
    turn.note("entrant", row.id, "made", {"competition": competition, "number": number})
    return _entrant(row)


def handed_in_by_id(session: Session, number: int, *, lock: bool = False) -> HandedIn:
    """Return an item that was handed in, held against other programs' changes with `lock`. Raises NotFoundError."""
    return _handed_in(handed_in_row(session, number, lock=lock))


def handed_in_at(session: Session, competition: int, number: int) -> HandedIn:
    """Return an item that was handed in at a competition. Raises NotFoundError, for an item of another one as well."""
    item = handed_in_by_id(session, number)
    if item.competition_id != competition:
        raise no_such_item(number)
    return item


def items_of_entrants(session: Session, ids: Iterable[int]) -> dict[int, tuple[HandedIn, ...]]:
    """Return what some entrants have handed in, by their ids."""
    found: dict[int, list[HandedIn]] = {each: [] for each in ids}
    chosen = select(HandedInRow).where(HandedInRow.entrant_id.in_(found)).order_by(HandedInRow.entrant_id, HandedInRow.number)
    for row in session.scalars(chosen):
        found[row.entrant_id].append(_handed_in(row))
    return {entrant: tuple(items) for entrant, items in found.items()}


def items_at(session: Session, competition: int, *states: HandedInState, limit: int | None = None) -> tuple[HandedIn, ...]:
    """Return what is in one of these states at a competition, everything where none is named.

    First those on their first time over the table, in the order of handing in, then the retests (m.41.2).
    """
    chosen = select(HandedInRow).where(HandedInRow.competition_id == competition)
    if states:
        chosen = chosen.where(HandedInRow.state.in_([each.value for each in states]))
    chosen = chosen.order_by(HandedInRow.attempt > 1, HandedInRow.handed_in, HandedInRow.id)
    return tuple(map(_handed_in, session.scalars(chosen.limit(limit) if limit else chosen)))


def untouched_by(  # noqa: PLR0913 — a station, and a stretch of its queue
    session: Session, competition: int, does: str, kinds: Iterable[str], *, limit: int, offset: int = 0
) -> tuple[HandedIn, ...]:
    """Return items of some kinds, still to be tested, of which no station of this work has entered anything in this attempt.

    First those on their first time over the table, in the order of handing in, then the retests (m.41.2).
    """
    entered = (
        select(ControlEntryRow.id)
        .join(StationRow, StationRow.id == ControlEntryRow.station_id)
        .where(
            ControlEntryRow.control_item_id == HandedInRow.id,
            ControlEntryRow.attempt == HandedInRow.attempt,
            StationRow.does == does,
        )
    )
    here = (HandedInRow.competition_id == competition, HandedInRow.state.in_(TO_TEST), HandedInRow.kind.in_(list(kinds)))
    chosen = select(HandedInRow).where(*here, ~entered.exists())
    chosen = chosen.order_by(HandedInRow.attempt > 1, HandedInRow.handed_in, HandedInRow.id).limit(limit).offset(offset)
    return tuple(map(_handed_in, session.scalars(chosen)))


def unmarked_items(session: Session, competition: int, *, limit: int | None = None) -> tuple[HandedIn, ...]:
    """Return items that passed and have no mark yet, the longest waiting first."""
    marked = select(ControlMarkRow.id).where(
        ControlMarkRow.control_item_id == HandedInRow.id, ControlMarkRow.attempt == HandedInRow.attempt
    )
    of_it = HandedInRow.competition_id == competition
    chosen = select(HandedInRow).where(of_it, HandedInRow.state == HandedInState.PASSED.value, ~marked.exists())
    chosen = chosen.order_by(HandedInRow.decided, HandedInRow.id)
    return tuple(map(_handed_in, session.scalars(chosen.limit(limit) if limit else chosen)))


def seen_before(session: Session, item_id: int, *, limit: int = 20) -> tuple[HandedIn, ...]:
    """Return when an item of the register was handed in before, the latest first."""
    chosen = select(HandedInRow).where(HandedInRow.item_id == item_id).order_by(HandedInRow.id.desc()).limit(limit)
    return tuple(map(_handed_in, session.scalars(chosen)))


def hand_in(turn: Turn, entrant: int, new: NewHandedIn) -> HandedIn:
    """Take an item in from an entrant; a known token takes it once. Raises NotFoundError, and InputError for too many."""
    known = made_by_token(turn, HandedInRow, new.token)
    if known:
        return _handed_in(known)
    fencer = turn.session.get(EntrantRow, entrant, with_for_update=True)
    if fencer is None:
        raise NotFoundError(what="entrant", name=str(entrant), known=())
    there = turn.session.scalar(select(func.count()).where(HandedInRow.entrant_id == entrant)) or 0
    if there >= MOST_ITEMS:
        raise InputError(seen=f"this fencer has handed in {there} items", remedy="nobody may hand in as many: see the quotas")
    row = HandedInRow(
        competition_id=fencer.competition_id, entrant_id=entrant, number=there + 1, kind=new.kind, weapon=new.weapon,
        item_id=new.item_id, state=HandedInState.HANDED_IN.value, attempt=1, passed=None, handed_in=turn.at, decided=None,
        handed_back=None, version=1, changed=turn.at, token=new.token,
    )  # fmt: skip
    turn.session.add(row)
    if fencer.came is None:
        fencer.came = turn.at
    turn.session.flush()
    turn.note("kit", row.id, "made", {"entrant": entrant, "kind": new.kind, "weapon": new.weapon, "item": new.item_id})
    return _handed_in(row)


def change_handed_in(turn: Turn, number: int, wanted: Mapping[str, Any], *, version: int | None, held: bool = False) -> HandedIn:
    """Change fields of an item that was handed in; `held`: its row is locked already. Raises NotFoundError and ClashError."""
    row = handed_in_row(turn.session, number, lock=not held)
    given = {key: value.value if isinstance(value, HandedInState) else value for key, value in wanted.items()}
    changed = change_row(turn, row, given, version=version, what=f"item {row.number} of this fencer")
    if changed:
        turn.note("kit", row.id, "changed", changed)
    return _handed_in(row)


def handed_in_row(session: Session, number: int, *, lock: bool = False) -> HandedInRow:
    """Return the row of an item, held against other programs' changes with `lock`. Raises NotFoundError."""
    locked = locked_items(session)
    row = session.get(HandedInRow, number, with_for_update=(lock and number not in locked) or None)
    if lock:
        locked.add(number)  # it is held as long as the session lasts, so it is asked for once
    if row is None:
        raise no_such_item(number)
    hold(session, row)
    return row


def no_such_item(number: int) -> NotFoundError:
    """Return the error of an item that nobody has handed in."""
    return NotFoundError(what="item that was handed in", name=str(number), known=())


def locked_items(session: Session) -> set[int]:
    """Return the items that this transaction has locked, to be added to."""
    locked: set[int] = session.info.setdefault("locked items", set())
    return locked


def hold(session: Session, row: object) -> None:
    """Keep a row at hand for as long as the session lasts: SQLAlchemy forgets what nobody holds, and would ask again."""
    session.info.setdefault("held", {})[id(row)] = row


def _entrant(row: EntrantRow) -> Entrant:
    given = {each.name: getattr(row, each.name) for each in fields(Entrant)}
    return Entrant(**given | {"weapons": tuple(row.weapons)})


def _handed_in(row: HandedInRow) -> HandedIn:
    given = {each.name: getattr(row, each.name) for each in fields(HandedIn)}
    return HandedIn(**given | {"state": HandedInState(row.state)})
