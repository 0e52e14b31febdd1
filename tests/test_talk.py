"""The talk afterwards: an exchange that begins the best trial, its proof, and what everybody saw when something was put right.

That a repair is proved by doing again what failed is common practice, no source.
"""

from __future__ import annotations

import pytest

from foible.diagnosis import StagedFault
from foible.practice import Attempt, Deed, Level, Step, staged
from foible.services.practice.plans import carried_out, told_again
from foible.services.practice.reasoned import advised, first_advice
from foible.services.practice.talk import lines_about
from usual import REASONING

pytestmark = pytest.mark.once

BROKEN = "right cord C wire at the reel plug: broken where it leaves the plug"


@pytest.fixture(scope="module")
def attempt() -> Attempt:
    """Return how a newcomer found a broken cord: the weapon exchanged, the cord exchanged and named, and tried again."""
    setup = REASONING.setup("foil")
    known = setup.failures[BROKEN]
    hidden, ideas = staged(setup, [StagedFault(known, known.usual_ohms)], 1), REASONING.ideas(setup)
    again, items = told_again(hidden, ideas), list(setup.items)
    assert hidden.level is Level.STEADY
    assert again is not None
    steps = (
        Step(Deed.TRIAL, again),
        Step(Deed.EXCHANGE, items.index("right weapon")),
        Step(Deed.EXCHANGE, items.index("right cord")),
        Step(Deed.NAME, items.index("right cord") + 1),
        Step(Deed.TRIAL, again),
    )
    return Attempt(hidden, ideas, steps)


def test_lamps_that_stay_lit_once_an_item_is_out_speak_against_it(attempt: Attempt) -> None:
    """Line C is part of the loop, which is closed at rest: FIE Material Rules, August 2026, Annex B, A.1."""
    first, weapon, cord = (each.table for each in attempt.done[:3])
    assert first is not None
    assert weapon is not None
    assert cord is not None
    assert "right white" in weapon.saw
    assert "right white" not in cord.saw
    standing = lines_about(REASONING, attempt)[1].standing
    assert dict(standing).get("right weapon", 0.0) < 0.1


def test_the_trial_that_proves_has_nothing_better_beside_it(attempt: Attempt) -> None:
    assert lines_about(REASONING, attempt)[-1].best == ""


def test_an_exchange_that_begins_the_best_trial_is_not_told_to_be_made_instead() -> None:
    setup = REASONING.setup("foil")
    known = setup.failures[BROKEN]
    hidden, ideas = staged(setup, [StagedFault(known, known.usual_ohms)], 1), REASONING.ideas(setup)
    numbers, attempt = {idea.trial: place for place, idea in enumerate(ideas)}, Attempt(hidden, ideas, ())
    best = first_advice(advised(REASONING, attempt), Level.STEADY)
    while best is not None and not best.trial.swapped:
        attempt = Attempt(hidden, ideas, (*attempt.steps, *carried_out(attempt, best, numbers)))
        best = first_advice(advised(REASONING, attempt), Level.STEADY)
    assert best is not None, "nothing is exchanged on the way"
    exchange = Step(Deed.EXCHANGE, list(setup.items).index(best.trial.swapped[-1]))
    assert lines_about(REASONING, attempt.then(exchange))[-1].best == ""


def test_whoever_knows_the_item_may_look_for_the_part() -> None:
    """What is exchanged can no longer be looked at: common practice, no source."""
    setup = REASONING.setup("foil")
    known = setup.failures["left weapon wire along the blade: broken in the groove"]
    hidden, ideas = staged(setup, [StagedFault(known, known.usual_ohms)], 1), REASONING.ideas(setup)
    told = told_again(hidden, ideas)
    assert told is not None

    def trial(say: str) -> Step:
        return Step(Deed.TRIAL, next(place for place, idea in enumerate(ideas) if idea.say == say and idea.item is None))

    bridged = trial("unplug the left weapon and hold both pins of its cord on the guard")
    look = next(
        Step(Deed.TRIAL, place) for place, idea in enumerate(ideas) if idea.trial.examine == ("left weapon wire along the blade",)
    )
    lines = lines_about(REASONING, Attempt(hidden, ideas, (Step(Deed.TRIAL, told), bridged, look)))
    assert lines[1].standing[0][0] == "left weapon"
    assert lines[2].best == ""
