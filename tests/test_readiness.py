"""What trials teach of a failure that comes and goes: what brought it on brings it on again. Common practice, no source."""

from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest

from foible.diagnosis.shown.hypotheses import SOUND
from strip import strip

FOIL, STRIP_EPEE = strip("foil"), strip("épée")
BEAT = "beat left weapon blade"
GRIP = "left weapon grip nut"


def shares(*trials: dict[str, object]) -> dict[str, float]:
    finding = FOIL.reasoner.find([FOIL.trial(**keys) for keys in trials])
    return {suspect.part: suspect.probability for suspect in finding.suspects} | {SOUND: finding.sound, "?": finding.unknown}


def item(name: str, *trials: dict[str, object]) -> float:
    finding = FOIL.reasoner.find([FOIL.trial(**keys) for keys in trials])
    return next(share.probability for share in finding.items if share.name == name)


def test_what_fails_in_the_bout_and_passes_the_test_is_a_fault_that_comes_and_goes() -> None:
    """truth.md B: “fails in the bout, passes the test” is the plain story of an intermittent fault, not “not in this model”."""
    told = shares({"move": "fence left", "saw": "left white flickers"}, {"saw": "nothing", "times": 3})
    assert told["?"] < 0.05


def test_each_confirmation_sharpens() -> None:
    """truth.md B: “not in this model” rose with each confirming tug; it may not eat what the confirmations bring."""
    tug: dict[str, object] = {"move": "tug left cord weapon plug", "saw": "left white flickers"}
    still: dict[str, object] = {"saw": "nothing"}
    cord = [item("left cord", still, *[tug] * count) for count in (1, 2, 3, 4)]
    assert cord == sorted(cord)
    unknown = [shares(still, *[tug] * count)["?"] for count in (1, 4)]
    assert unknown[1] < 0.03
    assert unknown[1] < 3 * unknown[0]


def test_what_brought_a_fault_on_is_expected_to_bring_it_on_again() -> None:
    """The chance of white at the next beat rises with every beat that gave it, for the fault that it speaks for."""
    reasoner = FOIL.reasoner
    beat = FOIL.trial(move=BEAT, saw="left white flickers")
    run = reasoner.hypotheses.runs[GRIP]
    presence = reasoner.trial_likelihood.presence
    moving = reasoner.hypotheses.activity[run] > 0
    there = []
    for count in range(4):
        both, one, _ = presence.regimes(beat, reasoner.learnt([beat] * count))
        there.append((both + one)[run][moving])
    assert all((later >= sooner - 1e-9).all() for sooner, later in pairwise(there))
    open_joint = np.isinf(reasoner.hypotheses.ohms[run][moving])  # a joint of 20 Ω lights nothing, and nothing is learnt of it
    assert (there[3] > there[0] + 0.1)[open_joint].all()


def test_a_good_foil_beaten_in_vain_clears_the_foil_and_one_left_lying_says_little() -> None:
    """truth.md A6: quiet at rest proves nothing about a parry."""
    complaint = {"move": BEAT, "saw": "left white flickers", "times": 2}
    lying = item("left weapon", complaint, {"swapped": "left weapon", "saw": "nothing"})
    beaten = item("left weapon", complaint, {"swapped": "left weapon", "move": BEAT, "saw": "nothing", "times": 2})
    assert beaten > lying
    assert beaten > 0.9


def test_a_white_that_goes_out_when_the_blade_is_bent_is_the_wire() -> None:
    """truth.md B: a movement can cure as well as bring on; white at rest that goes out is the textbook sign of a snapped wire."""
    told = shares({"saw": "left white"}, {"move": "bend left weapon blade", "saw": "left white flickers"})
    first = max((part for part in told if part not in (SOUND, "?")), key=lambda part: told[part])
    assert first.startswith("left weapon wire")


@pytest.mark.parametrize(("hearsay", "least", "most"), [(0.3, 0.27, 0.31), (0.02, 0.015, 0.021)])
def test_a_fencers_word_leaves_open_that_nothing_is_wrong(hearsay: float, least: float, most: float) -> None:
    """truth.md A3: 0.2 to 0.3 by kind of complaint, nearly none for steady white; but for the pairs, just what the file says."""
    told = shares({"press": "left", "on": "right lamé front", "saw": "left white", "hearsay": hearsay})
    assert least < told[SOUND] < most


def test_hits_that_light_after_a_complaint_make_nothing_wrong_the_likeliest() -> None:
    """truth.md A3: a white complaint, then ten coloured hits and a session without a lamp, gave 5.5 %."""
    told = shares(
        {"press": "left", "on": "right lamé front", "saw": "left white", "hearsay": 0.25},
        {"press": "left", "on": "right lamé front", "saw": "left coloured", "times": 10},
        {"move": "fence left", "saw": "nothing"},
    )
    assert told[SOUND] == max(told.values())


def test_what_is_told_without_a_cause_has_nothing_wrong_behind_it() -> None:
    """A touch on the metal piste lights the lamp: no cord does that; whoever tells it wrongly has sound kit. Common practice."""
    told = STRIP_EPEE.reasoner.find([STRIP_EPEE.trial(press="left", on="piste", saw="left coloured", hearsay=0.05)])
    share = {each.name: each.probability for each in told.items}
    assert share.get("right cord", 0.0) + share.get("left cord", 0.0) < 0.02
    assert told.sound == pytest.approx(0.05, abs=0.01)


def test_a_plug_that_is_not_home_comes_out_and_does_not_flicker() -> None:
    """White that comes and goes at a tug speaks for pin or wire; white from the tug on speaks for the plug. Common practice."""
    seat, pin = "left cord weapon plug seat", "left cord weapon plug B pin"
    flickers = shares({"saw": "nothing"}, {"move": "tug left cord weapon plug", "saw": "left white flickers"})
    stays = shares({"saw": "nothing"}, {"move": "tug left cord weapon plug", "saw": "left white"})
    assert stays[seat] / stays[pin] > 3 * flickers[seat] / flickers[pin]
