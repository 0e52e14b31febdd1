"""A report of lamps, on the apparatus or on a test box, in; the looks at them that agree with it out."""

from __future__ import annotations

from itertools import combinations_with_replacement
from typing import TYPE_CHECKING

from foible.apparatus import Lamp
from foible.errors import ImpossibleTrialError, InputError
from foible.kit import SIDES, plain
from foible.trials.trial import LIT_BEFORE, NOTHING, STATE, Group, Look, Seen

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

__all__ = ["looks_of", "read_lights", "read_seen"]

_COLOURS = {"red": "left coloured", "green": "right coloured"}
_LAMPS = {"white": (Group.HIT, 1), "coloured": (Group.HIT, 2), "yellow": (Group.YELLOW, 1), "orange": (Group.YELLOW, 1)}
_MANNERS = ("steady", "flickers", "sometimes")
_FORMS = (
    "say “nothing”, “left white”, “right coloured”, “left yellow flickers”, “left orange”, “left white sometimes”, "
    "“left white all along”, “left nothing” or “left no white”"
)


def looks_of(group: Group) -> tuple[Look, ...]:
    """Return all pairs of looks at a group, the lower state first."""
    return tuple(combinations_with_replacement(range(len(group.states)), 2))


def read_seen(phrases: Sequence[str], *, earth_lamp: bool = True) -> Seen:
    """Return what the phrases together report.

    Without `earth_lamp`, “nothing” does not speak of the yellow or orange lamp: at épée it is optional (Annex B, B(e)4).
    Steady phrases about one group must agree; phrases with “sometimes” or “flickers” add up. Raises InputError.
    """
    parts = [part.strip() for phrase in phrases for part in phrase.split(",") if part.strip()]
    steady: dict[tuple[str, Group], frozenset[Look]] = {}
    states: dict[tuple[str, Group], set[int]] = {}
    for part in parts:
        for side, group, state, manner in _read(part):
            if group is Group.YELLOW and not earth_lamp and plain(part).endswith("nothing"):
                continue
            key = (side, group)
            if manner == "steady":
                allowed = frozenset({(state, state)})
            elif manner == "no":
                lit = {state, LIT_BEFORE} if state == STATE[Lamp.WHITE] and group is Group.HIT else {state}
                allowed = frozenset(look for look in looks_of(group) if not lit & set(look))
            else:
                states.setdefault(key, set()).add(state)
                continue
            steady[key] = steady.get(key, allowed) & allowed
            if not steady[key]:
                _contradiction(parts, side)
    for key, shown in states.items():
        mixed = frozenset(look for look in looks_of(key[1]) if look[0] != look[1] and shown <= set(look))
        steady[key] = steady.get(key, mixed) & mixed
        if not steady[key]:
            _contradiction(parts, key[0])
    if not parts:
        raise InputError(seen="no lamps are given", remedy=_FORMS)
    return Seen(steady, tuple(parts))


def _contradiction(parts: Sequence[str], side: str) -> None:
    raise ImpossibleTrialError(
        seen=f"the lamps contradict each other on the {side}: {', '.join(f'“{part}”' for part in parts)}",
        remedy="an apparatus shows white or coloured for one hit, not both; if the tries differed, add “sometimes” to each",
    )


def _read(phrase: str) -> list[tuple[str, Group, int, str]]:
    first, *rest = plain(phrase).split(" ")
    words = [*_COLOURS.get(first, first).split(" "), *rest]
    if words == ["nothing"]:
        return [(side, group, NOTHING, "steady") for side in SIDES for group in Group]
    match words:
        case [side, "nothing"] if side in SIDES:
            return [(side, group, NOTHING, "steady") for group in Group]
        case [side, "no", lamp] if side in SIDES and lamp in _LAMPS:
            return [(side, *_LAMPS[lamp], "no")]
        case [side, "white", "all", "along"] if side in SIDES:
            return [(side, Group.HIT, LIT_BEFORE, "steady")]
        case [side, lamp] if side in SIDES and lamp in _LAMPS:
            return [(side, *_LAMPS[lamp], "steady")]
        case [side, lamp, manner] if side in SIDES and lamp in _LAMPS and manner in _MANNERS:
            return [(side, *_LAMPS[lamp], manner)]
        case _:
            raise InputError(seen=f"“{phrase}” is not a report of lamps", remedy=_FORMS)


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
