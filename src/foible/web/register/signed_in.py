"""Who has signed in on a device: noted in its session, and believed until they sign out or have another secret.

The session holds a token that the records know by its hash: signing out removes it there, so that no copy of a session opens
anything afterwards.
"""

from __future__ import annotations

import hmac
from contextlib import contextmanager
from typing import TYPE_CHECKING, cast

from foible.records.trail import Who
from foible.web.failures import ForbiddenError, TooSoonError
from foible.web.security import device, is_here
from foible.web.shared import settings_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from fastapi import Request

    from foible.records.people import Person
    from foible.services.register.people import Known, People

__all__ = ["first_login", "forget", "guessing", "people_of", "person_of", "remember", "who"]


def people_of(request: Request) -> People:
    """Return the service of people."""
    return cast("People", request.app.state.people)


def person_of(request: Request) -> Person | None:
    """Return who has signed in on the asking device; None where nobody has, or where they have another secret since."""
    if not hasattr(request.state, "person"):
        request.state.person = _person(request)
    return cast("Person | None", request.state.person)


def who(request: Request) -> Who:
    """Return who asks, as the trail notes it."""
    person = person_of(request)
    return Who(person.id if person else None, device(request))


def remember(request: Request, known: Known) -> None:
    """Note in the session who has signed in; whoever had before is signed out."""
    _end(request)
    token = people_of(request).begin(known.person, by=who(request))
    request.session["person"], request.session["key"] = known.person.id, token
    request.session["signed"] = _proof(request, known, token)
    request.state.person = known.person


def forget(request: Request) -> None:
    """Sign out whoever has signed in on this device, here and in whatever copy of its session there is."""
    _end(request)
    for key in ("person", "signed", "key"):
        request.session.pop(key, None)
    request.state.person = None


def _end(request: Request) -> None:
    token = request.session.get("key")
    if isinstance(token, str):
        people_of(request).end(token, by=who(request))


def first_login(request: Request, login: str) -> bool:
    """Return whether this would be the first login of all. Raises ForbiddenError anywhere but on the machine itself."""
    if not login.strip() or not people_of(request).is_open():
        return False
    if not is_here(request.scope):
        remedy = "do it there, or with `foible people add` in its terminal"
        raise ForbiddenError(seen="the first who signs in is made on the machine that runs Foible", remedy=remedy)
    return True


@contextmanager
def guessing(request: Request) -> Iterator[None]:
    """Within this block a secret is tried: an address that has guessed wrong too often waits. Raises TooSoonError."""
    guesses, address = settings_of(request).guesses, request.client.host if request.client else ""
    wait = guesses.wait(address)
    if wait > 0:
        raise TooSoonError(wait_s=wait)
    yield
    guesses.right(address)


def _person(request: Request) -> Person | None:
    noted, token, signed = (request.session.get(key) for key in ("person", "key", "signed"))
    if not (isinstance(noted, int) and isinstance(token, str) and isinstance(signed, str)):
        return None
    known = people_of(request).signed_in(noted, token)
    if known is None or not hmac.compare_digest(signed.encode(), _proof(request, known, token).encode()):
        return None
    return known.person


def _proof(request: Request, known: Known, token: str) -> str:
    """Return what the session holds: it changes with the secret and with the key of the cookies."""
    told = f"{known.person.id} {known.secret} {token}"
    return hmac.new(settings_of(request).secret.encode(), told.encode(), "sha256").hexdigest()[:32]
