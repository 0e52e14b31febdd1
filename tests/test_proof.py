"""How a repair is proved: what the trials of a proof leave of doubt, worked by hand."""

from __future__ import annotations

from types import SimpleNamespace
from typing import TYPE_CHECKING, Any, cast

import numpy as np
import pytest

from foible.diagnosis.advice.proof import REPAIR_FAILS, proof
from foible.trials import CaseTable, made_case
from strip import strip
from usual import REASONING

if TYPE_CHECKING:
    from foible.diagnosis.advice.adviser import Adviser

WEAPONS = ("foil", "épée", "sabre")


def adviser(*passing: tuple[float, ...], cost: tuple[float, ...]) -> Adviser:
    """Return trials that pass with these chances under each kind, sound kit first; no tool is needed."""
    ideas = [
        SimpleNamespace(
            say=f"{each}", seconds=each, needs=(), repair="", trial=SimpleNamespace(swapped=(), gauge=None), once_only=False
        )
        for each in cost
    ]
    outcomes = [SimpleNamespace(words="passes"), SimpleNamespace(words="fails")]
    experiments = [
        SimpleNamespace(idea=idea, outcomes=outcomes, chance=np.array([chances, 1 - np.array(chances)]))
        for idea, chances in zip(ideas, passing, strict=True)
    ]
    made = SimpleNamespace(
        starts_of=lambda _: 0, experiments=experiments, ideas=ideas, model=SimpleNamespace(cost=np.array(cost))
    )
    return cast("Adviser", made)


def test_a_fault_that_passes_like_sound_kit_stays_a_doubt() -> None:
    """Mended at 90 %, of which a tenth fails; the other fault, at 10 %, shows nothing.

    Three passes, the most of one trial: 0.81 · 0.98³ against 0.09 · 0.02³ + 0.1 · 0.98³, which is 89.0 %.
    """
    made = proof(adviser((0.98, 0.02, 0.98), cost=(3.0,)), np.array([0.0, 0.9, 0.1]), [1], (), sure=0.99)
    assert made.before == pytest.approx(0.81)
    assert made.after == pytest.approx(0.81 * 0.98**3 / (0.81 * 0.98**3 + 0.09 * 0.02**3 + 0.1 * 0.98**3))


def test_a_line_that_takes_little_off_the_doubt_is_not_asked_for() -> None:
    """Mended at 60 %, the other fault at 40 %, which shows nothing: a pass leaves 0.426 of a doubt of 0.46, over four fifths."""
    made = proof(adviser((0.98, 0.02, 0.98), cost=(3.0,)), np.array([0.0, 0.6, 0.4]), [1], (), sure=0.99)
    assert made.lines == ()
    assert made.after == pytest.approx(0.54)


def test_the_cheapest_trials_that_make_it_sure_enough_are_taken() -> None:
    """One pass of the first (10 s) leaves 0.1 · 0.1 / 0.91 = 1.1 %; two of the second (2 s each) 0.1 · 0.2² / 0.904 = 0.44 %."""
    made = proof(adviser((1.0, 0.1), (1.0, 0.2), cost=(10.0, 2.0)), np.array([0.0, 1.0]), [1], (), sure=0.99)
    assert made.seconds == pytest.approx(4.0)
    assert made.after == pytest.approx(0.9 / (0.9 + REPAIR_FAILS * 0.2**2))


@pytest.mark.slow
@pytest.mark.parametrize("weapon", WEAPONS)
def test_what_a_proof_claims_is_what_its_trials_leave(weapon: str) -> None:
    reasoning = REASONING
    setup = reasoning.setup(weapon)
    verb = "press" if setup.points["left"].moves else "cut"
    seen: dict[str, Any] = {verb: "left", "saw": ["nothing"]}
    if "right lamé front" in setup.places:
        seen["on"] = "right lamé front"
    case = made_case(CaseTable.model_validate({"title": "dark", "weapon": weapon, "trial": [seen]}), name="dark")
    diagnosis = reasoning.diagnose(case)
    reasoner = strip(weapon).reasoner
    known = reasoner.adviser()
    hypotheses = reasoner.hypotheses
    for suspect in diagnosis.finding.suspects[:4]:
        made = reasoning.proof(diagnosis, suspect)
        share = known.weights(diagnosis.finding.belief)
        share /= share.sum()
        mended = {
            known.kind_of(i)
            for i, number in enumerate(hypotheses.failure.tolist())
            if number >= 0
            and hypotheses.failures[number].item == suspect.item
            and suspect.failure.repair in (None, hypotheses.failures[number].repair)
        }
        state = share.copy()
        for kind in mended - {None}:
            state[kind] *= REPAIR_FAILS
        state[0] += share.sum() - state.sum()
        for line in made.lines:
            for idea in line.ideas:
                experiment = known.experiments[known.ideas.index(idea)]
                words = [outcome.words for outcome in experiment.outcomes]
                state *= experiment.chance[words.index(line.shows)].astype(np.float64) ** line.times
        assert 1 <= len(made.lines) <= 5, "nobody at a strip makes more: common practice, no source"
        assert made.lines[0].ideas[0].trial.unseen() == case.trials[0].unseen(), "the test that failed comes first"
        assert made.after == pytest.approx(state[0] / state.sum(), rel=1e-6)
        assert made.after > made.before
