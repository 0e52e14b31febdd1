"""People who work here and who own kit: added, signed in, locked and opened, erased, handed all that is kept of them."""

from __future__ import annotations

import time
from dataclasses import dataclass, replace
from secrets import token_urlsafe
from typing import TYPE_CHECKING, Any

from foible.errors import InputError, UnknownNameError
from foible.records.people import (
    GUESSES,
    Role,
    add_person,
    anyone_signs_in,
    change_person,
    erase_person,
    guess_was_right,
    guess_was_wrong,
    managers,
    people_found,
    person_by_id,
    secret_of,
    take_guess,
    unlock_person,
)
from foible.records.person_data import Mention, kept_of_person, mentions, photographed
from foible.records.sign_ins import begin_sign_in, end_all_sign_ins, end_sign_in, secret_while_signed_in
from foible.services.register.secrets import Secrets

if TYPE_CHECKING:
    from foible.records.people import NewPerson, Person
    from foible.records.register import RegisterStore, Turn
    from foible.records.trail import Who

__all__ = ["Known", "People", "SignInError", "role_named"]


REFUSED_AFTER_S = 0.25
"""A guess is refused so long after it was made, or a multiple of it: longer than any reason to refuse takes to find [s]."""


class SignInError(InputError):
    """Somebody does not come in; it does not tell whether that login is wrong, its secret, or whether it is locked."""

    http_status = 403

    def __init__(self) -> None:
        super().__init__(
            seen="that login and that PIN or passphrase do not belong together, or the login is locked",
            remedy=f"try again; {GUESSES} wrong tries lock a login until a manager opens it on the page “people”, or whoever is "
            "at the machine that runs Foible",
        )


@dataclass(frozen=True)
class Known:
    """Somebody who has signed in, and the hash of their secret: with another secret they have to sign in again."""

    person: Person
    secret: str


class People:
    """Everything a surface can do with people. A call that changes something has saved it before it returns."""

    def __init__(self, store: RegisterStore, secrets: Secrets | None = None, *, refused_after_s: float = REFUSED_AFTER_S) -> None:
        """`refused_after_s` is how long after it was made a guess is refused, whatever the reason; 0 at once."""
        self.store = store
        self._refused_after_s = refused_after_s
        self._secrets = secrets or Secrets()

    # --- looking up -----------------------------------------------------------------------------------------------

    def found(self, words: str = "", *, limit: int = 100, offset: int = 0) -> tuple[Person, ...]:
        """Return people by words of their name, club or login."""
        return self.store.read(lambda session: people_found(session, words, limit=limit, offset=offset))

    def person(self, person_id: int) -> Person:
        """Return one person, also one who was erased. Raises NotFoundError."""
        return self.store.read(lambda session: person_by_id(session, person_id))

    def is_open(self) -> bool:
        """Return whether nobody has a login yet, so that everybody who is in may do everything."""
        return not self.store.read(anyone_signs_in)

    def known(self, person_id: int) -> Known | None:
        """Return somebody who signs in; None where they no longer do."""
        secret = self.store.read(lambda session: secret_of(session, person_id))
        return Known(self.person(person_id), secret) if secret else None

    def signed_in(self, person_id: int, token: str) -> Known | None:
        """Return who is signed in on the device whose session holds a token; None where nobody is any more."""
        secret = self.store.read(lambda session: secret_while_signed_in(session, person_id, token))
        return Known(self.person(person_id), secret) if secret else None

    # --- signing in -----------------------------------------------------------------------------------------------

    def sign_in(self, login: str, secret: str, *, by: Who) -> Known:
        """Return who signs in. The guess is counted before it is looked at. Raises SignInError.

        A login that nobody has, one that is locked and a wrong secret are refused in the same words and after the same time.
        """
        begun = time.monotonic()
        guess = self.store.write(lambda turn: take_guess(turn, login), by=by, what="the guess")
        told = guess and not guess.locked
        if not self._secrets.opens(secret, guess.secret if guess and told else None) or guess is None:
            if guess is not None and told:
                wrong = guess.id
                self.store.write(lambda turn: guess_was_wrong(turn, wrong), by=by, what="the guess")
            if self._refused_after_s:
                time.sleep(self._refused_after_s - (time.monotonic() - begun) % self._refused_after_s)
            raise SignInError
        renewed = self._secrets.renewed(secret, guess.secret)
        person = self.store.write(lambda turn: guess_was_right(turn, guess.id, renewed=renewed), by=by, what="who signs in")
        return Known(person, renewed or guess.secret)

    def begin(self, person: Person, *, by: Who) -> str:
        """Note that somebody has signed in on a device; return the token that its session is to hold."""
        token = token_urlsafe(24)
        self.store.write(lambda turn: begin_sign_in(turn, person.id, token), by=by, what="who signs in")
        return token

    def end(self, token: str, *, by: Who) -> None:
        """Sign out the device whose session holds a token: a copy of its session opens nothing from now on."""
        self.store.write(lambda turn: end_sign_in(turn, token), by=by, what="who signs out")

    # --- changing -------------------------------------------------------------------------------------------------

    def add(self, new: NewPerson, secret: str = "", *, by: Who) -> Person:
        """Add a person or a club; one with a login needs a role and a `secret`. Raises InputError."""
        if new.login and new.login.strip():
            whole = replace(new, secret=self._secrets.hashed(secret), role=new.role or Role.WORK)
        else:
            whole = replace(new, login=None, role=None, secret=None)

        def change(turn: Turn) -> Person:
            made = add_person(turn, whole)
            _check_managed(turn)
            return made

        return self.store.write(change, by=by, what="the person")

    def revise(self, person_id: int, wanted: dict[str, Any], secret: str = "", *, version: int | None, by: Who) -> Person:
        """Change what is kept of somebody; an empty `secret` stays. Raises InputError, NotFoundError and ClashError."""
        given = dict(wanted)
        if "role" in given:
            given["role"] = Role(given["role"]).value if given["role"] else None
        if secret:
            given["secret"] = self._secrets.hashed(secret)
        if "login" in given and not (given["login"] or "").strip():
            given |= {"login": None, "role": None, "secret": None}

        def change(turn: Turn) -> Person:
            made = change_person(turn, person_id, given, version=version)
            if made.login and not (made.role and secret_of(turn.session, person_id)):
                raise InputError(
                    seen=f"{made.name} has a login, but not all it takes", remedy="give a role, and a PIN or passphrase"
                )
            _check_managed(turn)
            return made

        return self.store.write(change, by=by, what="the person")

    def change_own_secret(self, person: Person, old: str, new: str, *, by: Who) -> Known:
        """Have somebody choose another PIN or passphrase, who proves that they know the old one. Raises InputError."""
        hashed = self._secrets.hashed(new)
        self.sign_in(person.login or "", old, by=by)
        changed = self.store.write(
            lambda turn: change_person(turn, person.id, {"secret": hashed}, version=None), by=by, what="the new secret"
        )
        return Known(changed, hashed)

    def unlock(self, person_id: int, *, by: Who) -> Person:
        """Open a login that wrong tries have locked."""
        return self.store.write(lambda turn: unlock_person(turn, person_id), by=by, what="the login")

    def erase(self, person_id: int, *, by: Who) -> tuple[Mention, ...]:
        """Erase who somebody is, and return where people have written their name into a text, which stays as it is."""

        def change(turn: Turn) -> tuple[Mention, ...]:
            person = person_by_id(turn.session, person_id)
            found = () if person.erased else mentions(turn.session, person.name) + photographed(turn.session, person_id)
            erase_person(turn, person_id)
            end_all_sign_ins(turn, person_id)
            _check_managed(turn)
            return found

        return self.store.write(change, by=by, what="the person")

    def export(self, person_id: int) -> dict[str, Any]:
        """Return everything kept that refers to a person, by table. Raises NotFoundError."""
        return self.store.read(lambda session: kept_of_person(session, person_id))


def role_named(word: str | None) -> Role | None:
    """Return a role by its name; None for none. Raises UnknownNameError."""
    if word and word not in set(Role):
        raise UnknownNameError(what="role", name=word, known=list(Role), all_named=True)
    return Role(word) if word else None


def _check_managed(turn: Turn) -> None:
    """Refuse a change after which people sign in, but nobody who may manage."""
    turn.session.flush()
    if anyone_signs_in(turn.session) and not managers(turn.session):
        remedy = "let somebody else manage first; the first who signs in has to be a manager"
        raise InputError(seen="then nobody could manage the register any more", remedy=remedy)
