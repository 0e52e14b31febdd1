"""Who is signed in on which device: a row for each, which signing out removes."""

from __future__ import annotations

from datetime import timedelta
from hashlib import sha256
from typing import TYPE_CHECKING

from sqlalchemy import delete, select

from foible.records.people_tables import PersonRow, SignInRow

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

    from foible.records.register.turn import Turn

__all__ = ["SIGNED_IN_FOR", "begin_sign_in", "end_all_sign_ins", "end_sign_in", "secret_while_signed_in"]

SIGNED_IN_FOR = timedelta(days=90)
"""The longest that somebody stays signed in on a device."""


def begin_sign_in(turn: Turn, person_id: int, token: str) -> None:
    """Note that a device, whose session holds `token`, is somebody's from now on; those that have lasted long enough are over."""
    turn.session.execute(delete(SignInRow).where(SignInRow.at < turn.at - SIGNED_IN_FOR))
    turn.session.add(SignInRow(person_id=person_id, token=_kept(token), at=turn.at))


def end_sign_in(turn: Turn, token: str) -> None:
    """Sign a device out; one that is out already stays so."""
    turn.session.execute(delete(SignInRow).where(SignInRow.token == _kept(token)))


def end_all_sign_ins(turn: Turn, person_id: int) -> None:
    """Sign somebody out on every device."""
    turn.session.execute(delete(SignInRow).where(SignInRow.person_id == person_id))


def secret_while_signed_in(session: Session, person_id: int, token: str) -> str | None:
    """Return the hash of the secret of somebody who is signed in on the device with `token`; None where they are not."""
    chosen = select(PersonRow.secret).join(SignInRow, SignInRow.person_id == PersonRow.id)
    return session.scalar(chosen.where(PersonRow.id == person_id, PersonRow.login.is_not(None), SignInRow.token == _kept(token)))


def _kept(token: str) -> str:
    """Return a token as the records have it: whoever reads them, or a copy of them, cannot sign in with it."""
    return sha256(token.encode()).hexdigest()
