"""Names as a caller gives them in, today's names out; what was renamed on the way is noted, to be reported."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.errors import UnknownNameError
from foible.kit import load_setup
from foible.trials import former_names, names_in, todays_trial

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from foible.kit import Renamed, What
    from foible.trials import TrialTable

__all__ = ["GivenNames"]


class GivenNames:
    """The names of one call. A name that the kit never had is returned as it is: whoever uses it reports it as unknown."""

    def __init__(self, overlays: Sequence[Path] = ()) -> None:
        self._overlays = tuple(overlays)
        self._former = former_names(overlays)
        self._renamed: dict[Renamed, None] = {}

    @property
    def notices(self) -> tuple[Renamed, ...]:
        """Former names that were read as today's, in the order in which they came."""
        return tuple(self._renamed)

    def weapon(self, name: str) -> str:
        """Return what a weapon is called today."""
        return self._today("weapon", name, "")

    def item(self, name: str, weapon: str) -> str:
        """Return what an item is called today."""
        return self._today("item", name, weapon)

    def part(self, name: str, weapon: str) -> str:
        """Return what a part is called today."""
        return self._today("part", name, weapon)

    def failure(self, name: str, weapon: str) -> str:
        """Return what a failure, “part: mode” or a part alone, is called today."""
        whole = self._today("failure", name, weapon)
        if whole != name:
            return whole
        part, mark, mode = name.partition(": ")
        return self._today("part", part, weapon) + mark + mode

    def say(self, sentence: str, weapon: str) -> str:
        """Return the sentence that asks for a trial today."""
        return self._today("trial", sentence, weapon)

    def trial(self, table: TrialTable, weapon: str) -> TrialTable:
        """Return a trial in today's names."""
        if not self._former.entries:
            return table
        todays, renamed = todays_trial(table, load_setup(weapon, overlays=self._overlays), self._former)
        self._renamed |= dict.fromkeys(renamed)
        return todays

    def _today(self, what: What, name: str, weapon: str) -> str:
        if not self._former.entries:
            return name
        try:
            known = names_in(what, weapon, self._overlays)
        except UnknownNameError:  # an unknown weapon is reported by whoever asks for it
            return name
        found = self._former.renamed(what, name, known, weapon=weapon or None)
        if found is None:
            return name
        self._renamed[found] = None
        return found.now
