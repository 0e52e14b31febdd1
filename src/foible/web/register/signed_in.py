"""Who has signed in on a device: noted in its session, and believed as long as the secret they signed in with holds."""

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
    """Note in the session who has signed in."""
    request.session["person"], request.session["signed"] = known.person.id, _proof(request, known)
    request.state.person = known.person


def forget(request: Request) -> None:
    """Sign out whoever has signed in on this device."""
    for key in ("person", "signed"):
        request.session.pop(key, None)
    request.state.person = None


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
    noted = request.session.get("person")
    known = people_of(request).known(noted) if isinstance(noted, int) else None
    if known is None or not hmac.compare_digest(str(request.session.get("signed", "")).encode(), _proof(request, known).encode()):
        return None
    return known.person


def _proof(request: Request, known: Known) -> str:
    """Return what the session holds: it changes with the secret and with the key of the cookies."""
    told = f"{known.person.id} {known.secret}"
    return hmac.new(settings_of(request).secret.encode(), told.encode(), "sha256").hexdigest()[:32]
