"""The kit in; out, today's names by the kind of thing they name, against which former names are checked."""

from __future__ import annotations

from contextlib import suppress
from functools import lru_cache
from typing import TYPE_CHECKING

from foible.apparatus import profile_names
from foible.errors import ProblemsError
from foible.kit import SIDES, Book, fittings, kit_stamp, load_former, load_setup, plain, weapon_names
from foible.trials.catalogue import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Collection, Iterator, Mapping, Sequence
    from pathlib import Path

    from foible.errors import Problem
    from foible.kit import Former, FormerNames, Setup, What

__all__ = ["former_names", "names_in", "names_of"]

SETUPS = 8
"""Set-ups whose names stay in memory."""


def former_names(overlays: Sequence[Path] = ()) -> FormerNames:
    """Return the names that have changed. Raises ProblemsError where a folder's changes do not fit its kit.

    Foible's own are not checked against its kit each time; a test does that.
    """
    return _checked(tuple(overlays), kit_stamp(overlays))


@lru_cache(maxsize=SETUPS)
def names_of(setup: Setup) -> Mapping[What, Collection[str]]:
    """Return the names that belong to a set-up, by what they name."""
    return {
        "part": setup.parts,
        "item": setup.items,
        "place": setup.places,
        "connection": setup.connections,
        "movement": setup.movements,
        "repair": setup.repairs,
        "failure": setup.failures,
        "sign": _spelt("sign", (*setup.signs, "fine")),
        "gauge": _spelt("gauge", setup.gauges),
    }


def names_in(what: What, weapon: str, overlays: Sequence[Path] = ()) -> Collection[str]:
    """Return the names of one kind with everything fitted as usual. Raises UnknownNameError where there is no such weapon."""
    match what:
        case "weapon":
            return _spelt("weapon", weapon_names(overlays))
        case "slot":
            return _spelt("slot", fittings(weapon, overlays))
        case "model":
            return _spelt("model", (model for models in fittings(weapon, overlays).values() for model in models))
        case "profile":
            return _spelt("rule profile", profile_names(overlays))
        case "trial":
            ideas = load_catalogue(load_setup(weapon, overlays=overlays), overlays=overlays)
            return _spelt("trial", (idea.say for idea in ideas))
        case _:
            return names_of(load_setup(weapon, overlays=overlays))[what]


def _spelt(what: str, names: Iterator[str] | Collection[str]) -> Book[str]:
    return Book(what, {name: name for name in names})


@lru_cache(maxsize=4)
def _checked(overlays: tuple[Path, ...], stamp: object) -> FormerNames:
    del stamp
    names = load_former(overlays)
    problems = [problem for entry in names.entries if not entry.shipped for problem in slips(entry, names, overlays)]
    if problems:
        raise ProblemsError(dict.fromkeys(problems))
    return names


def slips(entry: Former, names: FormerNames, overlays: Sequence[Path] = ()) -> Iterator[Problem]:
    """Yield where a change does not fit the kit: a former name that is in use again, a new one that does not exist."""
    weapons = weapon_names(overlays)
    unknown = sorted(entry.weapons - {plain(weapon) for weapon in weapons})
    if unknown:
        yield entry.problem("weapons", f"there is no weapon “{unknown[0]}”", f"name some of {', '.join(weapons)}")
    mine = [weapon for weapon in weapons if entry.holds_for(weapon)]
    for weapon in mine:
        if entry.was in names_in(entry.what, weapon, overlays):
            remedy = "list under weapons those for which it has changed, or give the new thing another name"
            yield entry.problem("was", f"“{entry.was}” is in use again as a name ({entry.what}, {weapon})", remedy)
    if mine and not any(_leads(entry, names, weapon, overlays) for weapon in mine):
        remedy = "correct the name; `foible kit` lists the names"
        yield entry.problem("is", f"there is no {entry.what} called “{entry.now}”", remedy)


def _leads(entry: Former, names: FormerNames, weapon: str, overlays: Sequence[Path]) -> bool:
    """Return whether a change leads to a name of today, with whatever can be fitted."""
    steps = list(names.steps(entry.what, entry.was, weapon, entry.until))
    last = steps[-1].now if steps else entry.now
    if last in names_in(entry.what, weapon, overlays):
        return True
    fitted = [{slot: model} for slot, models in fittings(weapon, overlays).items() for model in models]
    return any(last in names_of(setup).get(entry.what, ()) for setup in _setups(weapon, fitted, overlays))


def _setups(weapon: str, fitted: Sequence[Mapping[str, str]], overlays: Sequence[Path]) -> Iterator[Setup]:
    """Yield the set-up of a weapon with each of these fitted on both sides, where that fits."""
    for each in fitted:
        with suppress(ProblemsError):
            yield load_setup(weapon, fitted=dict.fromkeys(SIDES, each), overlays=overlays)
