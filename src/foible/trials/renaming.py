"""Tables written in former names in, the same tables in today's names out, with what was renamed."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.kit import WHOLE_SIDE, Renamed, fittings, job, job_parts, plain
from foible.trials.known import names_in, names_of

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Mapping, Sequence
    from pathlib import Path

    from foible.kit import FormerNames, Setup, What
    from foible.trials.casetable import CaseTable
    from foible.trials.read import TrialTable

__all__ = ["todays_head", "todays_names", "todays_trial"]


class _Names:
    """Reads names, today's and former ones, for one weapon and one version, and notes what was renamed."""

    def __init__(self, former: FormerNames, weapon: str | None, written: int | None) -> None:
        self._former, self._weapon, self._written = former, weapon, written
        self.renamed: dict[Renamed, None] = {}
        """In the order in which they were met."""

    def one(self, text: str, known: Mapping[What, Collection[str]], *whats: What) -> str:
        """Return today's name of the first kind that a text is, or was, a name of; else the text as it is."""
        if any(text in known[what] for what in whats):
            return text
        for what in whats:
            found = self._former.renamed(what, text, known[what], weapon=self._weapon, written=self._written)
            if found:
                self.renamed[found] = None
                return found.now
        return text


def todays_head(
    table: CaseTable, former: FormerNames, overlays: Sequence[Path] = (), *, written: int | None = None
) -> tuple[CaseTable, tuple[Renamed, ...]]:
    """Return a case with today's names of its weapon, of what is fitted and of its rule profile."""
    if not former.entries:
        return table, ()
    names = _Names(former, None, written)
    weapon = names.one(table.weapon, {"weapon": names_in("weapon", "", overlays)}, "weapon")
    changes: dict[str, object] = {"weapon": weapon}
    if weapon in names_in("weapon", "", overlays):
        names = _with(names, former, weapon, written)
        slots, models = names_in("slot", weapon, overlays), fittings(weapon, overlays)
        for side in ("left", "right"):
            fitted = {names.one(slot, {"slot": slots}, "slot"): model for slot, model in getattr(table, side).items()}
            changes[side] = {slot: names.one(model, {"model": models.get(slot, ())}, "model") for slot, model in fitted.items()}
        if table.profile:
            changes["profile"] = names.one(table.profile, {"profile": names_in("profile", weapon, overlays)}, "profile")
    return table.model_copy(update=changes), tuple(names.renamed)


def todays_names(
    table: CaseTable, setup: Setup, former: FormerNames, *, written: int | None = None
) -> tuple[CaseTable, tuple[Renamed, ...]]:
    """Return a case with today's names of what is known to be good and of its known cause."""
    if not former.entries:
        return table, ()
    names, known = _Names(former, setup.weapon, written), names_of(setup)
    changes: dict[str, object] = {"known_good": tuple(names.one(item, known, "item") for item in table.known_good)}
    if table.expect:
        parts = tuple(names.one(part, known, "part") for part in table.expect.parts)
        changes["expect"] = table.expect.model_copy(update={"parts": parts})
    return table.model_copy(update=changes), tuple(names.renamed)


def todays_trial(
    table: TrialTable, setup: Setup, former: FormerNames, *, written: int | None = None
) -> tuple[TrialTable, tuple[Renamed, ...]]:
    """Return a trial with today's names; anything that neither is nor was a name of the kit stays as it is."""
    if not former.entries:
        return table, ()
    names, known = _Names(former, setup.weapon, written), names_of(setup)

    def named(*whats: What) -> Callable[[str], str]:
        return lambda text: names.one(text, known, *whats)

    readers: dict[str, Callable[[str], str]] = {
        "on": named("place"),
        "touching": lambda text: _touching(text, named("place"), known["place"]),
        "unplugged": named("connection"),
        "plugged": named("connection"),
        "bridged": lambda text: _before(text, " ", named("connection")),
        "swapped": named("item"),
        "mended": lambda text: _mended(text, named("item"), named("repair"), named("part"), known),
        "move": lambda text: text if plain(text).startswith(f"{WHOLE_SIDE} ") else names.one(text, known, "movement"),
        "examine": named("item", "part"),
        "found": (lambda text: text) if table.gauge else named("sign"),
        "meter": named("place"),
        "box": named("item"),
        "gauge": lambda text: _after(text, " ", named("gauge")),
    }
    changes: dict[str, object] = {}
    for key, read in readers.items():
        given = getattr(table, key)
        if given:
            changes[key] = read(given) if isinstance(given, str) else tuple(read(text) for text in given)
    return table.model_copy(update=changes), tuple(names.renamed)


def _with(names: _Names, former: FormerNames, weapon: str, written: int | None) -> _Names:
    """Return what reads the names of a weapon, with what was renamed so far."""
    made = _Names(former, weapon, written)
    made.renamed |= names.renamed
    return made


def _touching(text: str, read: Callable[[str], str], places: Collection[str]) -> str:
    """Return “one place on another place” in today's names, whichever “on” parts them."""
    words = text.split(" ")
    for cut in (number for number, word in enumerate(words) if word.lower() == "on"):
        a, b = " ".join(words[:cut]).strip(), " ".join(words[cut + 1 :]).strip()
        if read(a) in places and read(b) in places:
            return f"{read(a)} on {read(b)}"
    return text


def _before(text: str, mark: str, read: Callable[[str], str]) -> str:
    """Return a text with the name before its last `mark` read."""
    name, found, rest = text.rpartition(mark)
    return f"{read(name)}{mark}{rest}" if found else text


def _after(text: str, mark: str, read: Callable[[str], str]) -> str:
    """Return a text with the name behind its first `mark` read."""
    rest, found, name = text.strip().partition(mark)
    return f"{rest}{mark}{read(name)}" if found else text


def _mended(
    text: str,
    item: Callable[[str], str],
    repair: Callable[[str], str],
    part: Callable[[str], str],
    known: Mapping[What, Collection[str]],
) -> str:
    """Return a part, or “item: repair”, in today's names."""
    name, rest = job_parts(text)
    return job(item(name), repair(rest)) if rest and item(name) in known["item"] else part(text)
