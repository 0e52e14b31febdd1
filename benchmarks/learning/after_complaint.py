"""What rates are worth right after the complaint, before any trial.

Log score: the mean logarithm of the probability given to the part that did fail. Cost to be done: what it takes to put the case
right by going through what could be wrong in the order that is best for the probabilities stated, the greatest probability for
its cost first (Heckerman, Breese & Rommelse, Decision-theoretic troubleshooting, 1995): at the piste by exchanging and putting
right, then on the bench, where the item is known, by mending. It is expected over what the complaint leaves possible where the
rates are the club's true ones, so that nobody's luck comes into it.

Cases come from `benchmarks.accuracy`, whose networks go through none of the program's tables.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from benchmarks.accuracy.cases import drawn
from benchmarks.accuracy.world import world_named
from foible.apparatus import load_profile
from foible.diagnosis import SOUND, UNKNOWN
from foible.diagnosis.advice.aims import aims_of, names_of
from foible.diagnosis.shown.hypotheses import all_hypotheses
from foible.situation import Mode
from foible.trials import CaseTable, made_case

if TYPE_CHECKING:
    from benchmarks.accuracy.cases import Cases, Told
    from benchmarks.learning.clubs import Club
    from foible.diagnosis import Finding
    from foible.kit import Setup
    from foible.services.reasoning import Reasoning

    Floats = np.ndarray

__all__ = ["Findings", "Worth", "cases_of", "worth"]

AGAIN_S = 10.0
"""Doing again what failed, after each thing put right [s]; the program's own figure."""


class Worth(NamedTuple):
    """The means over the cases of a club."""

    log_score: float
    """Mean logarithm of the probability of the part that failed."""
    piste_s: float
    """Mean cost to be done at the piste [s]."""
    bench_s: float
    """Mean cost to be done on the bench [s]."""


class _Acts(NamedTuple):
    """What could be done about each hypothesis: its number, −1 for none, shape (N,); what each costs, shape (acts,) [s]."""

    number: np.ndarray
    cost: Floats


class Findings:
    """What a reasoning makes of complaints, each worked out once."""

    def __init__(self, reasoning: Reasoning, setup: Setup) -> None:
        self.setup = setup
        self._reasoning = reasoning
        self._known: dict[str, Finding] = {}

    def after(self, told: Told) -> Finding:
        """Return what is believed after a complaint."""
        say = told.complaint.say
        if say not in self._known:
            table = CaseTable(weapon=self.setup.weapon, complaint=say, trial=(told.complaint.table,))
            self._known[say] = self._reasoning.find(made_case(table))
        return self._known[say]


def cases_of(club: Club, count: int) -> Cases:
    """Return cases that are complained of at a club, in the program's own world but for the rates."""
    setup = club.setup
    rates = club.known().rates(setup)
    return drawn(setup, load_profile(setup.profile), world_named("own"), count, club.seed, rates)


def worth(believed: Findings, true: Findings, cases: Cases) -> Worth:
    """Return what one reasoning comes to in the cases with one failure of the kit files, where another has the true rates."""
    spent: dict[str, tuple[float, float]] = {}
    found = []
    for place, faults in enumerate(cases.networks.cases):
        if len(faults) != 1 or faults[0].failure is None:
            continue
        told = cases.told[place]
        finding, say = believed.after(told), told.complaint.say
        if say not in spent:
            spent[say] = _spent(finding.belief.attributed, true.after(told).belief.attributed, believed.setup)
        found.append((float(np.log(max(finding.belief.failed_part(faults[0].failure.part), 1e-9))), *spent[say]))
    return Worth(*np.mean(found, axis=0).tolist())


def _spent(believed: Floats, true: Floats, setup: Setup) -> tuple[float, float]:
    """Return the expected cost at the piste and on the bench [s]; `believed` and `true`: shape (N,)."""
    known = float(true[2:].sum())
    items = {item.id for item in setup.items.values()}
    return tuple(
        sum(_in_order(_acts(setup.weapon, item), believed, true) for item in some) / known for some in ([None], sorted(items))
    )  # type: ignore[return-value]


def _in_order(acts: _Acts, believed: Floats, true: Floats) -> float:
    """Return the sum over hypotheses of the true probability and the cost until its act was done."""
    inside = acts.number >= 0
    weight = np.bincount(acts.number[inside], weights=believed[inside], minlength=len(acts.cost))
    holds = np.bincount(acts.number[inside], weights=true[inside], minlength=len(acts.cost))
    order = np.argsort(-weight / acts.cost, kind="stable")
    return float(holds[order] @ np.cumsum(acts.cost[order]))


@lru_cache(200)
def _acts(weapon: str, item: str | None) -> _Acts:
    """Return what could be done at the piste, or on the bench with an item on it."""
    from foible.kit import load_setup  # noqa: PLC0415 — the name of a weapon can be cached, a set-up cannot

    setup = load_setup(weapon)
    own, mode = all_hypotheses(setup), Mode.PISTE if item is None else Mode.BENCH
    aims = [aim for aim in aims_of(setup, own, mode, item) if aim.name not in {SOUND, UNKNOWN}]
    places = {aim.name: place for place, aim in enumerate(aims)}
    number = np.array([places.get(name, -1) for name in names_of(setup, own, mode, item)])
    return _Acts(number, np.array([aim.naming_s + AGAIN_S for aim in aims]))
