"""A report of lamps, on the apparatus or on a test box, in; the looks at them that agree with it out."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

from foible.apparatus import Lamp
from foible.errors import ImpossibleTrialError, InputError
from foible.kit import SIDES, plain
from foible.trials.trial import BOTH, LIT_BEFORE, NOTHING, STATE, Group, Look, Seen

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["looks_of", "read_lights", "read_seen", "speaks_of_earth"]

_COLOURS = {"red": "left coloured", "green": "right coloured"}
_STATES = {
    "white": STATE[Lamp.WHITE],
    "coloured": STATE[Lamp.COLOURED],
    "yellow": STATE[Lamp.YELLOW],
    "orange": STATE[Lamp.YELLOW],
}
_EARTH = ("yellow", "orange")
_WHITE, _COLOURED = STATE[Lamp.WHITE], STATE[Lamp.COLOURED]
_WHITE_LIT = frozenset({_WHITE, LIT_BEFORE, BOTH})
_LIT = {_WHITE: _WHITE_LIT, LIT_BEFORE: _WHITE_LIT, _COLOURED: frozenset({_COLOURED, BOTH})}
"""The states of hit lamps in which a lamp is lit."""
_CHANGING = ("flickers", "sometimes")
_MANNERS = ("steady", *_CHANGING)
_FORMS = (
    "say “nothing”, “left white”, “right coloured”, “left yellow flickers”, “left orange”, “left white sometimes”, "
    "“left white all along”, “left nothing” or “left no white”"
)


def looks_of(group: Group) -> tuple[Look, ...]:
    """Return all pairs of looks at a group, the lower state first."""
    return tuple(combinations_with_replacement(range(len(group.states)), 2))


def speaks_of_earth(phrases: Sequence[str]) -> bool:
    """Return whether somebody saw the lamp for an earthed line lit: then the apparatus has it, and “nothing” speaks of it too."""
    words = [plain(part).split(" ") for phrase in phrases for part in phrase.split(",")]
    return any("no" not in said and not {*_EARTH}.isdisjoint(said) for said in words)


def read_seen(phrases: Sequence[str], *, earth_lamp: bool = True, hit: Group = Group.HIT) -> Seen:
    """Return what the phrases together report.

    Without `earth_lamp`, “nothing” does not speak of the yellow or orange lamp: at épée it is optional (Annex B, B(e)4).
    `hit`: the group that white and coloured belong to. Steady phrases about one group must agree, unless both lamps can be lit
    together; phrases with “sometimes” or “flickers” add up. Raises InputError.
    """
    parts = [part.strip() for phrase in phrases for part in phrase.split(",") if part.strip()]
    told: dict[tuple[str, Group], list[tuple[int, str]]] = {}
    for part in parts:
        for side, group, state, manner in _read(part, hit):
            if group is not Group.YELLOW or earth_lamp or not plain(part).endswith("nothing"):
                told.setdefault((side, group), []).append((state, manner))
    looks: dict[tuple[str, Group], frozenset[Look]] = {}
    for (side, group), said in told.items():
        lit = {state for state, manner in said if manner != "no"}
        together = group is Group.CUT and _COLOURED in lit and not lit.isdisjoint({_WHITE, LIT_BEFORE})
        looks[side, group] = _together(said) if together else _apart(group, said)
        if not looks[side, group]:
            _contradiction(parts, side)
    if not parts:
        raise InputError(seen="no lamps are given", remedy=_FORMS)
    return Seen(looks, tuple(parts))


def _apart(group: Group, said: Sequence[tuple[int, str]]) -> frozenset[Look]:
    """Return the looks at a group that agree with states, each with its manner; the group shows one state at a time."""
    allowed = frozenset(looks_of(group))
    shown = {state for state, manner in said if manner in _CHANGING}
    for state, manner in said:
        if manner == "steady":
            allowed &= {(state, state)}
        elif manner == "no":
            lit = {state} if group is Group.YELLOW else _LIT[state]
            allowed = frozenset(look for look in allowed if not lit & set(look))
    if shown:
        allowed = frozenset(look for look in allowed if look[0] != look[1] and shown <= set(look))
    return allowed


def _together(said: Sequence[tuple[int, str]]) -> frozenset[Look]:
    """Return the looks at hit lamps, some lit together, in which each lamp does what is said of it."""
    allowed = frozenset(looks_of(Group.CUT))
    for state, manner in said:
        lit = _LIT.get(state, frozenset({state}))
        times = 0 if manner == "no" else 1 if manner in _CHANGING else 2
        allowed = frozenset(look for look in allowed if sum(one in lit for one in look) == times)
    return allowed


def _contradiction(parts: Sequence[str], side: str) -> None:
    raise ImpossibleTrialError(
        seen=f"the lamps contradict each other on the {side}: {', '.join(f'“{part}”' for part in parts)}",
        remedy="this apparatus shows white or coloured for one hit, not both; if the tries differed, add “sometimes” to each",
    )


def _read(phrase: str, hit: Group) -> list[tuple[str, Group, int, str]]:
    first, *rest = plain(phrase).split(" ")
    words = [*_COLOURS.get(first, first).split(" "), *rest]
    groups = (hit, Group.YELLOW)
    if words == ["nothing"]:
        return [(side, group, NOTHING, "steady") for side in SIDES for group in groups]
    match words:
        case [side, "nothing"] if side in SIDES:
            return [(side, group, NOTHING, "steady") for group in groups]
        case [side, "no", lamp] if side in SIDES and lamp in _STATES:
            return [(side, *_state(lamp, hit), "no")]
        case [side, "white", "all", "along"] if side in SIDES:
            return [(side, hit, LIT_BEFORE, "steady")]
        case [side, lamp] if side in SIDES and lamp in _STATES:
            return [(side, *_state(lamp, hit), "steady")]
        case [side, lamp, manner] if side in SIDES and lamp in _STATES and manner in _MANNERS:
            return [(side, *_state(lamp, hit), manner)]
        case _:
            raise InputError(seen=f"“{phrase}” is not a report of lamps", remedy=_FORMS)


def _state(lamp: str, hit: Group) -> tuple[Group, int]:
    return Group.YELLOW if lamp in _EARTH else hit, _STATES[lamp]


def read_lights(phrases: Sequence[str], pairs: Sequence[str]) -> Mapping[str, frozenset[Look]]:
    """Return for every pair of lines of a test box the looks at its lamp that agree with the report. Raises InputError."""
    shown: dict[str, frozenset[Look]] = {pair: frozenset({(0, 0)}) for pair in pairs}
    for phrase in phrases:
        pair, _, manner = phrase.strip().partition(" ")
        lines = "-".join(sorted(pair.upper().split("-")))
        if plain(phrase) == "nothing":
            continue
        if lines not in shown or manner not in ("", "flickers", "sometimes"):
            remedy = f"say “nothing”, or pairs such as “{pairs[0]}” and “{pairs[0]} flickers”; there are {', '.join(pairs)}"
            raise InputError(seen=f"“{phrase}” is not a lamp of the test box here", remedy=remedy)
        shown[lines] = frozenset({(0, 1)}) if manner else frozenset({(1, 1)})
    return shown
