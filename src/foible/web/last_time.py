"""What a device worked with last, kept in its session and offered for its next case: weapon, place, tools, facts of the hall."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.errors import UnknownNameError
from foible.facts import METAL_PISTE, NO_METAL_PISTE, ORANGE_LAMPS, facts_named
from foible.situation import Mode, Situation, tools_named

if TYPE_CHECKING:
    from fastapi import Request

    from foible.records import KeptCase

__all__ = ["OF_THE_HALL", "last_place", "last_weapon", "remember_place", "remember_weapon"]

OF_THE_HALL = (METAL_PISTE, NO_METAL_PISTE, ORANGE_LAMPS, "wet hall", "one-weapon event")
"""The facts that hold for the next case as well; the others are about one item."""
WHERE, WEAPON = "where", "weapon"


def remember_weapon(request: Request, word: str) -> None:
    """Keep which weapon a case was opened for."""
    request.session[WEAPON] = word


def last_weapon(request: Request) -> str:
    """Return the word of the weapon that this device opened a case for last; "" where there was none."""
    return str(request.session.get(WEAPON, ""))


def remember_place(request: Request, kept: KeptCase) -> None:
    """Keep where a case is worked on, and with what."""
    facts = [fact for fact in kept.facts if fact in OF_THE_HALL]
    request.session[WHERE] = {"place": kept.place, "item": kept.item, "tools": list(kept.tools), "facts": facts}


def last_place(request: Request) -> Situation | None:
    """Return where this device worked last; None where it never said, or says what Foible no longer knows."""
    told = request.session.get(WHERE)
    if not isinstance(told, dict):
        return None
    try:
        return Situation(Mode(told["place"]), told["item"], tools_named(told["tools"]), facts=facts_named(told["facts"]))
    except (KeyError, TypeError, ValueError, UnknownNameError):
        return None
