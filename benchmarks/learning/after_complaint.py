"""What rates are worth right after the complaint, before any trial: exactly, case by case.

Log score: the logarithm of the probability given to the part that did fail. Cost to be done: what it takes to put the case right
by going through what could be wrong in the order that is best for the probabilities stated (probability over cost, Heckerman,
Breese & Rommelse 1995), at the piste by exchanging and putting right, and on the bench, where the item is known, by mending.
Cases come from `benchmarks.accuracy`, whose networks go through none of the program's tables.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, NamedTuple

import numpy as np

from benchmarks.accuracy.cases import drawn
from benchmarks.accuracy.world import world_named
from foible.apparatus import load_profile
from foible.diagnosis import SOUND, UNKNOWN
from foible.diagnosis.advice.aims import aims_of, names_of
from foible.situation import Mode
from foible.trials import CaseTable, made_case

if TYPE_CHECKING:
    from benchmarks.accuracy.cases import Cases, Told
    from benchmarks.learning.clubs import Club
    from foible.diagnosis import Finding
    from foible.kit import Setup
    from foible.services.reasoning import Reasoning

__all__ = ["Worth", "cases_of", "worth"]

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


def cases_of(club: Club, count: int) -> Cases:
    """Return cases that are complained of at a club, in the program's own world but for the rates."""
    setup = club.setup
    rates = club.known().rates(setup)
    return drawn(setup, load_profile(setup.profile), world_named("own"), count, club.seed, rates)


def worth(reasoning: Reasoning, weapon: str, cases: Cases) -> Worth:
    """Return what a reasoning comes to in the cases with one failure of the kit files."""
    findings: dict[str, Finding] = {}
    orders: dict[tuple[str, str | None], dict[str, float]] = {}
    scores = []
    for place, faults in enumerate(cases.networks.cases):
        if len(faults) != 1 or faults[0].failure is None:
            continue
        failure, told = faults[0].failure, cases.told[place]
        say = told.complaint.say
        if say not in findings:
            findings[say] = _found(reasoning, weapon, told)
        seconds = []
        for item in (None, failure.item):
            if (say, item) not in orders:
                orders[say, item] = _order(findings[say], cases.networks.setup, item)
            seconds.append(orders[say, item][failure.id])
        part = findings[say].belief.failed_part(failure.part)
        scores.append((float(np.log(max(part, 1e-9))), *seconds))
    return Worth(*np.mean(scores, axis=0).tolist())


def _found(reasoning: Reasoning, weapon: str, told: Told) -> Finding:
    case = made_case(CaseTable(weapon=weapon, complaint=told.complaint.say, trial=(told.complaint.table,)))
    return reasoning.find(case)


def _order(finding: Finding, setup: Setup, item: str | None) -> dict[str, float]:
    """Return by failure what it takes until it is put right [s]: at the piste, or on the bench with an `item` on it."""
    own, mode = finding.belief.hypotheses, Mode.PISTE if item is None else Mode.BENCH
    names = names_of(setup, own, mode, item)
    share: dict[str, float] = {}
    for name, probability in zip(names, finding.belief.attributed.tolist(), strict=True):
        share[name] = share.get(name, 0.0) + probability
    aims = [aim for aim in aims_of(setup, own, mode, item) if aim.name not in {SOUND, UNKNOWN}]
    aims.sort(key=lambda aim: -share.get(aim.name, 0.0) / (aim.naming_s + AGAIN_S))
    spent, until = 0.0, {}
    for aim in aims:
        spent += aim.naming_s + AGAIN_S
        until[aim.name] = spent
    return {own.failures[int(f)].id: until[name] for f, name in zip(own.failure[2:], names[2:], strict=True) if name in until}
