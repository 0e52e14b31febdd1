"""The register in, a club's own rates for the reasoning out; and the choice whether they count.

What was done today counts from tomorrow (UTC), so that a case is reasoned alike for an evening, and counting happens once a day.
"""

from __future__ import annotations

from functools import partial
from math import inf
from threading import Lock
from time import monotonic
from typing import TYPE_CHECKING, NamedTuple

from foible.diagnosis import NO_RATES, Rates
from foible.errors import ClashError, NotFoundError
from foible.records import note
from foible.services.club_rates import UNRECORDED, ClubRates, Found, club_rates, rounded, sideless
from foible.services.register.from_case import title_codes
from foible.services.register.own_history import KindHistory

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable
    from datetime import datetime

    from sqlalchemy.orm import Session

    from foible.kit import Setup
    from foible.records import Who
    from foible.records.experience import ExperienceStore, FoundCount, KindCount
    from foible.services.register.own_history import OwnHistory
    from foible.situation import Situation

__all__ = ["Teacher", "found_with", "with_own_history"]

LOOK_S = 3.0
"""How old what is known of the choice may be: other processes may change it [s]."""
SETUPS = 64
"""Set-ups whose rates stay in memory."""


class _About(NamedTuple):
    """The rates for cases about one item: from which of the club's they are made, and until when they hold."""

    setup: Setup
    base: Rates
    rates: Rates
    until: float


class Teacher:
    """What a register teaches, for any set-up. `clock` tells the time, in UTC. Any thread may ask."""

    def __init__(self, store: ExperienceStore, clock: Callable[[], datetime]) -> None:
        self.store = store
        self.clock = clock
        self._lock = Lock()
        self._looked, self._learns = -LOOK_S, False
        self._counts: tuple[datetime, tuple[list[FoundCount], list[KindCount], list[KindCount]]] | None = None
        self._rates: dict[int, tuple[Setup, datetime, Rates]] = {}
        self._kinds: dict[tuple[str, str | None], tuple[datetime, KindHistory]] = {}
        self._about: dict[tuple[str, str, int], _About] = {}

    def rates(self, setup: Setup) -> Rates:
        """Return the club's own rates for a set-up as of this morning; none where the register is not to be learned from."""
        with self._lock:
            if not self._on():
                return NO_RATES
            morning = self._morning()
            known = self._rates.get(id(setup))
            if known is None or known[0] is not setup or known[1] != morning:
                if len(self._rates) >= SETUPS:
                    self._rates.clear()
                known = setup, morning, self._learned(setup, morning).rates(setup)
                self._rates[id(setup)] = known
            return known[2]

    def rates_in(self, title: str, situation: Situation) -> Callable[[Setup], Rates] | None:
        """Return the rates for a case about a registered item: on the bench, with the item's code in front of its title.

        The item's own history and the makes in it count there, on top of the club's own rates; None is any other case.
        """
        codes, thing = title_codes(title), situation.item
        return partial(self._rates_about, codes[0], thing) if codes and thing else None

    def own_history(self, setup: Setup, code: str, thing: str) -> OwnHistory | None:
        """Return what is known as of this morning of the registered item that `thing` is; None where it is none of that kind."""
        try:
            kind, weapon = self.store.kind_of(code)
        except NotFoundError:
            return None
        if thing not in setup.items or setup.items[thing].kind != kind or weapon not in (None, setup.weapon):
            return None
        with self._lock:
            morning = self._morning()
            known = self._kinds.get((kind, weapon))
            if known is None or known[0] != morning:
                items, finds = self.store.items(kind, weapon), self.store.finds(kind, weapon, before=morning)
                known = self._kinds[kind, weapon] = morning, KindHistory(items, finds, morning)
        return known[1].of(code)

    def switch(self, *, learns: bool, version: int, by: Who) -> None:
        """Let the register count or not. Raises ClashError where somebody else has switched it since `version`."""

        def change(session: Session) -> None:
            before = self.store.choose(session, value=learns)
            if before.value == learns:
                return
            if before.version != version:
                raise ClashError(
                    what="whether Foible learns", version=before.version, now=_told(before.value), wanted=_told(learns)
                )
            what = {"learning": [before.value, learns]}
            note(session, at=self.clock(), by=by, kind="choice", ref=0, did="changed", what=what)

        self.store.database.write(change, what="the choice")
        self.forget()

    def forget(self) -> None:
        """Look again whether to learn, and count anew, when next asked."""
        with self._lock:
            self._looked = -LOOK_S
            self._counts = None
            self._rates.clear()
            self._kinds.clear()
            self._about.clear()

    def club(self, setup: Setup) -> ClubRates:
        """Return what the register teaches of a set-up up to this moment, whether it is to be learned from or not."""
        return club_rates(setup, self.found(setup))

    def found(self, setup: Setup) -> Found:
        """Return what jobs with a weapon's kit found up to this moment."""
        return found_with(setup.weapon, self.store.found(), self.store.kinds(), self.store.sound())

    def _rates_about(self, code: str, thing: str, setup: Setup) -> Rates:
        """Return the rates for a set-up in which `thing` is the registered item with a code, where there is such an item."""
        base, key = self.rates(setup), (code, thing, id(setup))
        if not base:
            return base
        known = self._about.get(key)
        if known is None or known.setup is not setup or known.base is not base or known.until < monotonic():
            own = self.own_history(setup, code, thing)
            rates = base if own is None else with_own_history(base, setup, thing, own)
            if len(self._about) >= SETUPS:
                self._about.clear()
            # an item may be registered at any moment, but what one is stays
            known = self._about[key] = _About(setup, base, rates, monotonic() + LOOK_S if own is None else inf)
        return known.rates

    def _morning(self) -> datetime:
        return self.clock().replace(hour=0, minute=0, second=0, microsecond=0)

    def _on(self) -> bool:
        if monotonic() - self._looked > LOOK_S:
            self._learns, self._looked = self.store.learns().value, monotonic()
        return self._learns

    def _learned(self, setup: Setup, morning: datetime) -> ClubRates:
        if self._counts is None or self._counts[0] != morning:
            self._counts = morning, (self.store.found(morning), self.store.kinds(), self.store.sound(morning))
        return club_rates(setup, found_with(setup.weapon, *self._counts[1]))


def with_own_history(rates: Rates, setup: Setup, thing: str, own: OwnHistory) -> Rates:
    """Return a club's rates with those of one thing in a set-up multiplied by what its own history says."""
    factors = {
        failure.id: own.times[name]
        for failure in setup.failures.values()
        if failure.item == thing and (name := sideless(setup, failure)) in own.times
    }
    return Rates(
        tuple((name, rounded(times * factors[name]) if name in factors else times) for name, times in rates.of), rates.sound
    )


def _told(learns: bool) -> dict[str, object]:  # noqa: FBT001 — the one value that it words
    return {"learning": "on" if learns else "off"}


def found_with(weapon: str, found: Iterable[FoundCount], kinds: Iterable[KindCount], sound: Iterable[KindCount]) -> Found:
    """Return what counts say of a weapon's kit.

    What serves all weapons (reels, floor cables, pistes …) counts for each of them by its share of the jobs on weapons' own kit.
    """
    found, sound = list(found), list(sound)
    jobs: dict[str | None, int] = {}
    for weapon_of, times in (*((each.weapon, each.times) for each in found), *((each.weapon, each.times) for each in sound)):
        jobs[weapon_of] = jobs.get(weapon_of, 0) + times
    bound = sum(times for made_for, times in jobs.items() if made_for is not None)
    share = {weapon: 1.0, None: jobs.get(weapon, 0) / bound if bound else 1.0}
    count: dict[str, float] = {}
    for entry in found:
        count[entry.failure] = count.get(entry.failure, 0.0) + entry.times * share.get(entry.weapon, 0.0)
    nothing = sum(entry.times * share.get(entry.weapon, 0.0) for entry in sound if entry.kind not in UNRECORDED)
    return Found(count, {entry.kind for entry in kinds if entry.weapon in (weapon, None)}, nothing)
