"""A request in; out, who is learning: a random token in the session, without an account; and what their exercises have shown.

Somebody who has signed in is the same learner on every device. On a device where they sign out, the next one begins anew.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime
from typing import TYPE_CHECKING, cast

from foible.services.practice.drills import drilled_weapons
from foible.services.practice.lessons import ideas_taught, lesson_next, lessons_about, lessons_taken
from foible.services.practice.progress import new_token
from foible.services.practice.standing import standings
from foible.web.register.signed_in import person_of
from foible.web.shared import cases_of

if TYPE_CHECKING:
    from fastapi import Request

    from foible.kit import Weapon
    from foible.practice import Result
    from foible.services.practice.groups import Groups
    from foible.services.practice.lessons import Listed
    from foible.services.practice.progress import Progress
    from foible.services.practice.standing import Standing

__all__ = ["Shelves", "become", "groups_of", "learner_of", "noted", "progress_of", "shelves_of", "standings_of"]

BEGINNING = datetime(2000, 1, 1, tzinfo=UTC)
"""Before anybody practised here."""

LEARNER, OF_PERSON = "learner", "learner_of"
"""What the session calls the learner's token, and the person to whom it belongs."""


def progress_of(request: Request) -> Progress:
    """Return the service of what learners have shown."""
    return cast("Progress", request.app.state.progress)


def groups_of(request: Request) -> Groups:
    """Return the service of groups."""
    return cast("Groups", request.app.state.groups)


def learner_of(request: Request) -> str:
    """Return the token of whoever practises on the asking device; it is made when first needed. Nothing is written by that.

    Only for somebody who has signed in, it is noted once whose learner it is. Raises KeepingError.
    """
    session, person = request.session, person_of(request)
    if session.get(OF_PERSON) != (person.id if person else None):
        if session.get(OF_PERSON) is not None:
            session.pop(LEARNER, None)  # whoever it belonged to has signed out
        if person:
            session[LEARNER] = progress_of(request).of_person(person.id, session.get(LEARNER), _now())
            session[OF_PERSON] = person.id
        else:
            session.pop(OF_PERSON)
    if not session.get(LEARNER):
        session[LEARNER] = new_token()
    return str(session[LEARNER])


def become(request: Request, learner: str) -> None:
    """Have the asking device go on as a learner, by the token of the link that was opened on it."""
    request.session[LEARNER] = learner
    request.session.pop(OF_PERSON, None)


def noted(request: Request, result: Result, *, token: str | None = None) -> bool:
    """Note what an exercise has shown of whoever asks; return whether it could be kept.

    Records that can only be read keep nobody from practising. The same `token` notes no second result. The weapon may be any
    of its names. Raises UnknownNameError, InputError, and KeepingError where records that take changes fail to.
    """
    progress = progress_of(request)
    if progress.database.read_only:
        return False
    named = replace(result, weapon=cases_of(request).reasoning.weapon(result.weapon).name)
    progress.note(learner_of(request), named, _now(), token=token)
    return True


@dataclass(frozen=True)
class Shelves:
    """The lessons by weapon, and how far whoever asks has come in them."""

    shelves: tuple[tuple[Weapon, tuple[Listed, ...]], ...]
    taken: frozenset[tuple[str, str]]
    """Weapon and name of each lesson of which every question was answered."""

    @property
    def taught(self) -> frozenset[tuple[str, str]]:
        """Idea and weapon of each lesson that was taken."""
        lessons = (each for _, lessons in self.shelves for each in lessons)
        return ideas_taught(lessons, self.taken, [weapon for weapon, _ in self.shelves])

    def about(self, weapon: str, idea: str) -> Listed | None:
        """Return the first lesson about an idea at a weapon; None where there is none."""
        lessons = next((lessons for each, lessons in self.shelves if each.name == weapon), ())
        return next((each for each in lessons if each.table and each.table.subject == idea), None)

    @property
    def values(self) -> dict[str, object]:
        """What templates show: `here` is where to go on."""
        minutes = [each.minutes for _, lessons in self.shelves for each in lessons]
        here = lesson_next(self.shelves, self.taken)
        return {"shelves": self.shelves, "taken": self.taken, "here": here, "minutes": minutes or [0]}


def shelves_of(request: Request) -> Shelves:
    """Return the lessons, with those that whoever asks has taken."""
    reasoning = cases_of(request).reasoning
    shelves = tuple((weapon, lessons_about(reasoning, weapon)) for weapon in reasoning.weapons())
    shown = progress_of(request).results(learner_of(request), BEGINNING)
    return Shelves(shelves, lessons_taken(shown, [each for _, lessons in shelves for each in lessons]))


def standings_of(request: Request) -> tuple[Standing, ...]:
    """Return how every idea stands at every weapon for whoever asks."""
    cards = [(card.subject, card.weapon, card.memory) for card in progress_of(request).cards(learner_of(request))]
    return standings(cards, drilled_weapons(cases_of(request).reasoning), _now())


def _now() -> datetime:
    return datetime.now(UTC)
