"""People and clubs in: those who work here, those who own kit. Functions of one transaction, which the trail tells of."""

from __future__ import annotations

from dataclasses import dataclass
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from sqlalchemy import func, select, update

from foible.errors import ClashError, InputError, NotFoundError
from foible.records.people_tables import PersonRow
from foible.records.practice_tables import LearnerRow
from foible.records.register.turn import made_by_token
from foible.records.tables import folded

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.records.register.turn import Turn

__all__ = [
    "ERASED", "GUESSES", "Guess", "NewPerson", "Person", "Role", "add_person", "anyone_signs_in", "change_person",
    "erase_person", "guess_was_right", "guess_was_wrong", "managers", "names_of", "people_found", "person_by_id", "secret_of",
    "take_guess", "unlock_person",
]  # fmt: skip

GUESSES = 10
"""Wrong guesses in a row that lock a login until a manager opens it."""
ERASED = "erased"
"""What stands in the place of the name of a person who was erased."""
KINDS = ("person", "club")


class Role(StrEnum):
    """What somebody who signs in may do: each may do what those before it may."""

    LOOK = "look"
    WORK = "work"
    MANAGE = "manage"

    def covers(self, other: Role) -> bool:
        """Return whether whoever has this role may do what the other may."""
        order = list(Role)
        return order.index(self) >= order.index(other)


@dataclass(frozen=True)
class Person:
    """Somebody who works here or owns kit: a person or a club."""

    id: int
    kind: str
    name: str
    club: str
    contact: str
    login: str | None
    role: Role | None
    locked: datetime | None
    erased: datetime | None
    version: int


@dataclass(frozen=True)
class NewPerson:
    """A person or a club to be added; without a `login` an owner who never signs in."""

    name: str
    kind: str = "person"
    club: str = ""
    contact: str = ""
    login: str | None = None
    role: Role | None = None
    secret: str | None = None
    """Argon2id of it, never the secret itself."""
    token: str | None = None


@dataclass(frozen=True)
class Guess:
    """A guess that has been counted: whose secret it is to be compared with, or that no more are taken."""

    id: int
    secret: str
    locked: bool


def person_by_id(session: Session, person_id: int) -> Person:
    """Return a person. Raises NotFoundError."""
    return _person(_row(session, person_id))


def secret_of(session: Session, person_id: int) -> str | None:
    """Return the Argon2id of a person's secret; None where nobody signs in by it any more."""
    return session.scalar(select(PersonRow.secret).where(PersonRow.id == person_id, PersonRow.login.is_not(None)))


def anyone_signs_in(session: Session) -> bool:
    """Return whether anybody has a login: until then everybody who is in may do everything."""
    return session.scalar(select(PersonRow.id).where(PersonRow.login.is_not(None)).limit(1)) is not None


def managers(session: Session) -> int:
    """Return how many people sign in to manage."""
    chosen = select(func.count()).select_from(PersonRow).where(PersonRow.role == Role.MANAGE, PersonRow.login.is_not(None))
    return session.scalar(chosen) or 0


def people_found(session: Session, words: str = "", *, limit: int = 100, offset: int = 0) -> tuple[Person, ...]:
    """Return people who are not erased and in whose name, club or login all the words occur, by name."""
    chosen = select(PersonRow).where(PersonRow.erased.is_(None)).order_by(PersonRow.name, PersonRow.id)
    for word in folded(words).split():
        chosen = chosen.where(PersonRow.words.contains(word, autoescape=True))
    return tuple(_person(row) for row in session.scalars(chosen.limit(limit).offset(offset)))


def names_of(session: Session, ids: Iterable[int | None]) -> dict[int, str]:
    """Return by ID the names of those of some people and clubs who are not erased."""
    wanted = {each for each in ids if each is not None}
    chosen = select(PersonRow.id, PersonRow.name).where(PersonRow.id.in_(wanted), PersonRow.erased.is_(None))
    return {row.id: row.name for row in session.execute(chosen)} if wanted else {}


def add_person(turn: Turn, new: NewPerson) -> Person:
    """Add a person or a club; a token that has added one before adds no second. Raises InputError."""
    known = made_by_token(turn, PersonRow, new.token)
    if known:
        return _person(known)
    if new.kind not in KINDS:
        raise InputError(seen=f"“{new.kind[:40]}” is no kind of owner", remedy=f"use {' or '.join(KINDS)}")
    given: dict[str, str | None] = {
        "kind": new.kind,
        "name": _named(new.name),
        "club": new.club.strip(),
        "contact": new.contact.strip(),
    }
    given |= {"login": _login(turn.session, new.login), "role": new.role and new.role.value}
    row = PersonRow(**given, secret=new.secret, token=new.token, changed=turn.at, version=1, wrong=0)
    row.make_searchable()
    turn.session.add(row)
    turn.session.flush()
    turn.note("person", row.id, "made", {key: [None, value] for key, value in given.items() if value})
    return _person(row)


def change_person(turn: Turn, person_id: int, wanted: Mapping[str, Any], *, version: int | None) -> Person:
    """Change fields of a person, `secret` among them; `version` is what whoever changes it has seen, None what follows from it.

    Raises NotFoundError, InputError and ClashError.
    """
    row = _row(turn.session, person_id, standing=True)
    given = {key: str(value).strip() if isinstance(value, str) else value for key, value in wanted.items()}
    if "name" in given:
        given["name"] = _named(given["name"])
    if "login" in given:
        given["login"] = _login(turn.session, given["login"], of=row.id)
    changed = {key: [getattr(row, key), value] for key, value in given.items() if getattr(row, key) != value}
    if not changed:
        return _person(row)
    if version is not None and version != row.version:
        shown = {key: getattr(row, key) for key in given if key != "secret"}
        wished = {key: value for key, value in given.items() if key != "secret"}
        raise ClashError(what=f"the entry of {row.name}", version=row.version, now=shown, wanted=wished)
    for key, value in given.items():
        setattr(row, key, value)
    _touch(turn, row)
    turn.note("person", row.id, "changed", {key: "changed" if key == "secret" else pair for key, pair in changed.items()})
    return _person(row)


def erase_person(turn: Turn, person_id: int) -> None:
    """Empty the row that holds who somebody is, and what they are called where they practise; what refers to it still does.

    Doing so again changes nothing.
    """
    row = _row(turn.session, person_id)
    if row.erased is not None:
        return
    row.name, row.club, row.contact, row.words = ERASED, "", "", ""
    row.login, row.role, row.secret, row.token = None, None, None, None
    row.wrong, row.locked, row.erased = 0, None, turn.at
    row.version += 1
    row.changed = turn.at
    turn.session.execute(update(LearnerRow).where(LearnerRow.person_id == row.id).values(nickname=""))
    turn.note("person", row.id, "erased", {})


def take_guess(turn: Turn, login: str) -> Guess | None:
    """Count a guess before anything is compared, so that guesses at the same time are counted too; None for an unknown login."""
    chosen = select(PersonRow).where(PersonRow.login == folded(login), PersonRow.login.is_not(None)).with_for_update()
    row = turn.session.scalars(chosen).one_or_none()
    if row is None or row.secret is None:
        return None
    if row.locked is not None or row.wrong >= GUESSES:
        return Guess(row.id, row.secret, locked=True)
    row.wrong += 1
    return Guess(row.id, row.secret, locked=False)


def guess_was_wrong(turn: Turn, person_id: int) -> None:
    """Lock the login where this was one wrong guess too many."""
    row = _row(turn.session, person_id)
    if row.wrong >= GUESSES and row.locked is None:
        row.locked = turn.at
        turn.note("person", row.id, "locked", {"wrong": row.wrong})


def guess_was_right(turn: Turn, person_id: int, *, renewed: str | None = None) -> Person:
    """Forget the wrong guesses of somebody who knows their secret; `renewed` is the same secret, hashed as is usual today."""
    row = _row(turn.session, person_id, standing=True)
    row.wrong, row.secret = 0, renewed or row.secret
    return _person(row)


def unlock_person(turn: Turn, person_id: int) -> Person:
    """Open a login that wrong guesses have locked; one that is open stays so."""
    row = _row(turn.session, person_id, standing=True)
    if row.locked is not None or row.wrong:
        row.wrong, row.locked = 0, None
        _touch(turn, row)
        turn.note("person", row.id, "unlocked", {})
    return _person(row)


def _touch(turn: Turn, row: PersonRow) -> None:
    row.version += 1
    row.changed = turn.at
    row.make_searchable()


def _row(session: Session, person_id: int, *, standing: bool = False) -> PersonRow:
    row = session.get(PersonRow, person_id)
    if row is None or (standing and row.erased is not None):
        known = session.scalars(select(PersonRow.id).where(PersonRow.erased.is_(None)).order_by(PersonRow.id).limit(12))
        raise NotFoundError(what="person", name=str(person_id), known=[str(each) for each in known])
    return row


def _named(text: str) -> str:
    words = " ".join(text.split())
    if not words or not words.isprintable():
        raise InputError(seen="the name is empty" if not words else "the name cannot be shown", remedy="give a name")
    return words


def _login(session: Session, text: str | None, of: int | None = None) -> str | None:
    """Return a login as it is kept; None where there is none. Raises InputError for one that somebody else has."""
    word = folded(text or "")
    if not word:
        return None
    other = session.scalar(select(PersonRow.id).where(PersonRow.login == word))
    if other is not None and other != of:
        raise InputError(seen=f"somebody else signs in as “{word[:40]}”", remedy="choose another login")
    return word


def _person(row: PersonRow) -> Person:
    role = Role(row.role) if row.role else None
    return Person(row.id, row.kind, row.name, row.club, row.contact, row.login, role, row.locked, row.erased, row.version)
