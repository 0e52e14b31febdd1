"""A club's own rates in the reasoning: what jobs found, weighed into the prior of every suspect, and nothing else."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from foible.diagnosis import Rates
from foible.kit import load_setup
from foible.services.club_rates import Found, club_rates, sideless
from foible.trials import CaseTable, TrialTable, made_case, read_trial
from usual import REASONING

if TYPE_CHECKING:
    from foible.diagnosis.belief.posterior import Belief
    from foible.services.reasoning import Reasoning
    from foible.services.verdict import Diagnosis

CORD = "cord B wire at the weapon plug: broken where it leaves the plug"
KINDS = ("weapon", "cord", "lamé", "reel", "floor cable", "apparatus", "mask cord", "bib", "piste")


@pytest.fixture(scope="module")
def reasoning() -> Reasoning:
    return REASONING


def test_what_a_club_finds_is_suspected_more_and_the_rest_of_the_odds_stay(reasoning: Reasoning) -> None:
    """Bayes: with a multiplied prior, the odds of two failures are multiplied by the ratio of their multipliers."""
    setup = load_setup("foil")
    case = made_case(CaseTable(weapon="foil", complaint="", trial=()))
    taught = reasoning.taught(lambda _: Rates(((f"left {CORD}", 4.0), (f"right {CORD}", 4.0))))
    plain, club = (each.find(case).belief for each in (reasoning, taught))
    part = setup.failures[f"left {CORD}"].part
    other = next(name for name in plain.hypotheses.runs if name.startswith("right weapon"))

    def odds(belief: Belief) -> float:
        single = belief.probability
        return float(single[plain.run_of(part)].sum() / single[plain.run_of(other)].sum())

    assert odds(club) == pytest.approx(4 * odds(plain))
    assert len(club.hypotheses) == len(plain.hypotheses)


def test_learned_and_published_share_their_networks_and_differ_in_what_they_say(reasoning: Reasoning) -> None:
    setup = load_setup("foil")
    table = TrialTable(press="left", on="right lamé front", saw=("left white", "right nothing"))
    trial = read_trial(setup, table)[0]
    case = made_case(CaseTable(weapon="foil", complaint="", trial=()))
    learned = club_rates(setup, Found({CORD: 40.0, "cord clip bite: off, dirty or corroded": 5.0}, KINDS))
    taught = reasoning.taught(learned.rates)
    usual, own = (each.diagnose(case, (trial,)) for each in (reasoning, taught))
    wire = setup.failures[f"left {CORD}"].part

    def share(diagnosis: Diagnosis) -> float:
        return next(s.probability for s in diagnosis.finding.suspects if s.part == wire)

    assert share(own) > 2 * share(usual)
    again = reasoning.diagnose(case, (trial,))
    assert share(again) == share(usual)


def test_a_kind_that_nobody_registers_is_left_as_it_is() -> None:
    setup = load_setup("foil")
    learned = club_rates(setup, Found({CORD: 30.0}, ("cord",)))
    known = dict(learned.rates(setup).of)
    assert all(" cord " in name for name in known)
    assert learned.share.sum() == pytest.approx(1)
    assert learned.share @ learned.learned.mean == pytest.approx(1), "cords together are suspected as much as before"


def test_nothing_found_changes_nothing() -> None:
    setup = load_setup("sabre")
    learned = club_rates(setup, Found({}, KINDS))
    assert learned.learned.mean == pytest.approx(np.ones(len(learned.names)), abs=1e-6)
    assert learned.sound == pytest.approx(1)
    assert all(times == 1 for _, times in learned.rates(setup).of)


def test_items_found_sound_make_nothing_wrong_likelier() -> None:
    """Gamma–Poisson: of 50 jobs 10 found nothing where 3 % were to be expected: (2 + 10) / (2 + 1.5) times as often."""
    learned = club_rates(load_setup("foil"), Found({CORD: 40.0}, KINDS, sound=10.0))
    assert learned.sound == pytest.approx(12 / 3.5)


def test_both_sides_have_one_name() -> None:
    setup = load_setup("épée")
    names = [sideless(setup, failure) for failure in setup.failures.values()]
    assert not any(name.startswith(("left ", "right ")) for name in names)
    assert {names.count(name) for name in names} <= {1, 2}
