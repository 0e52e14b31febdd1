"""Reasoners and catalogues, made when first asked for: what a case is about in, the reasoner for it, locked, out."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass, replace
from threading import Lock
from typing import TYPE_CHECKING, Generic, TypeVar

from cachetools import LRUCache

from foible.diagnosis import NO_RATES, Rates, Reasoner, exchange_named
from foible.trials import load_catalogue

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from foible.apparatus import Profile
    from foible.kit import Setup
    from foible.trials import Idea, Trial

__all__ = ["Catalogue", "Kit", "Reasoners", "Remembered", "published", "telling_facts"]

Made = TypeVar("Made")

REASONERS = 12
"""Set-ups, each with its item on the bench, whose tables stay in memory; for a whole strip they take some 100 MB."""
CATALOGUES = 32
"""Set-ups whose catalogue of trials stays in memory."""
LOOKED_AT = 256
"""Proofs, and suspects looked at, that stay in memory: a proof is asked for at each of its lines, a suspect at each zoom."""


@dataclass(frozen=True)
class Kit:
    """What is reasoned about: a set-up, the profile its apparatus follows, and what is not in question."""

    setup: Setup
    profile: Profile
    known_good: tuple[str, ...] = ()
    """Items, or parts of tools, that are not suspected."""
    facts: tuple[str, ...] = ()
    """What is known of the place and the kit."""
    rates: Rates = NO_RATES
    """The club's own rates of failures, where they count."""

    @property
    def key(self) -> tuple[object, ...]:
        """What distinguishes it from others; two set-ups loaded from the same files are one object."""
        return id(self.setup), self.profile, self.known_good, self.facts, self.rates


@dataclass(frozen=True)
class Catalogue:
    """The trials worth trying with a set-up."""

    setup: Setup
    ideas: tuple[Idea, ...]
    by_sentence: Mapping[str, Idea]
    """Trials by the sentence that asks for them."""

    def asked(self, say: str) -> Idea | None:
        """Return the trial that a sentence asks for, with an exchange or without; None where there is none. Reasons nothing."""
        return self.by_sentence.get(say) or exchange_named(self.setup, say, self.by_sentence)


class Reasoners:
    """Makes reasoners and lends each to one thread at a time. `overlays` are folders with further kit files.

    A catalogue needs no reasoner, so it can be had while somebody else reasons.
    """

    def __init__(self, overlays: Sequence[Path]) -> None:
        self._overlays = tuple(overlays)
        self._reasoners: LRUCache[tuple[object, ...], Reasoner] = LRUCache(REASONERS)
        self._catalogues: LRUCache[int, Catalogue] = LRUCache(CATALOGUES)
        self._making, self._reading = Lock(), Lock()

    def catalogue(self, setup: Setup) -> Catalogue:
        """Return the trials worth trying with a set-up. Raises ProblemsError for slips in the files."""
        with self._reading:
            known = self._catalogues.get(id(setup))
            if known is None or known.setup is not setup:
                ideas = load_catalogue(setup, overlays=self._overlays)
                known = Catalogue(setup, ideas, {idea.say: idea for idea in ideas})
                self._catalogues[id(setup)] = known
            return known

    def not_in_question(self, setup: Setup, item: str, trials: Sequence[Trial]) -> tuple[str, ...]:
        """Return the items, and of the tools the parts, that cannot matter where one item alone is tried.

        A gauge that nobody puts to it cannot have misled anybody.
        """
        others = [each.id for each in setup.items.values() if each.id != item and not each.tool]
        tried = [*trials, *(idea.trial for idea in self.catalogue(setup).ideas if idea.item == item)]
        used = {trial.gauge[1] for trial in tried if trial.gauge} | {"meter" for trial in tried if trial.meter}
        looked_at = {part for trial in tried for part in trial.examine}
        tools = [each for each in setup.failures.values() if setup.items[each.item].tool and each.item != item]
        needed = {each.part for each in tools if each.part in looked_at or not used.isdisjoint((*each.gauges, each.spoils))}
        return (*others, *dict.fromkeys(each.part for each in tools if each.part not in needed))

    @contextmanager
    def lent(self, kit: Kit) -> Iterator[Reasoner]:
        """Have sole use of the reasoner for some kit."""
        reasoner = self._made(kit)
        with reasoner.lock:
            yield reasoner

    def _made(self, kit: Kit) -> Reasoner:
        """Return the reasoner for some kit; one with a club's own rates shares the networks of the one without."""
        ideas = self.catalogue(kit.setup).ideas
        like = self._made(replace(kit, rates=NO_RATES)) if kit.rates else None
        with self._making:
            known = self._reasoners.get(kit.key)
            if known is None or known.setup is not kit.setup:
                known = Reasoner(
                    kit.setup, kit.profile, known_good=kit.known_good, facts=kit.facts, ideas=ideas, rates=kit.rates, like=like
                )
                self._reasoners[kit.key] = known
            return known


class Remembered(Generic[Made]):
    """What was worked out about set-ups, by what it depends on; the last of it stays in memory. Any thread may ask."""

    def __init__(self) -> None:
        self._known: LRUCache[tuple[object, ...], tuple[Setup, Made]] = LRUCache(LOOKED_AT)
        self._lock = Lock()

    def get(self, setup: Setup, key: tuple[object, ...], make: Callable[[], Made]) -> Made:
        """Return what stands under a key, or make it; what was made about another set-up of the same `id` does not count."""
        with self._lock:
            found = self._known.get(key)
        if found is None or found[0] is not setup:
            found = setup, make()
            with self._lock:
                self._known[key] = found
        return found[1]


def telling_facts(setup: Setup, facts: Sequence[str]) -> tuple[str, ...]:
    """Return the facts that change how often something fails with this kit."""
    return tuple(fact for fact in facts if any(fact in failure.when for failure in setup.failures.values()))


def published(setup: Setup) -> Rates:  # noqa: ARG001 — a club's own depend on it
    """Return no rates of a club's own: those of the kit files hold."""
    return NO_RATES
