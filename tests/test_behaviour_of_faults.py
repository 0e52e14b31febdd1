"""How faults behave under a trial, beyond what comes and goes (`test_readiness`): a technician's memory, no source."""

from __future__ import annotations

import pytest

from foible.diagnosis import Kind
from foible.kit import load_setup
from foible.trials import CaseTable, load_complaints, made_case
from strip import strip
from usual import REASONING

pytestmark = pytest.mark.once

FOIL = strip("foil")
HIT: dict[str, object] = {"press": "left", "on": "right lamé front"}
TUG: dict[str, object] = {"move": "tug left cord weapon plug"}


def parts(*trials: dict[str, object]) -> dict[str, float]:
    finding = FOIL.reasoner.find([FOIL.trial(**keys) for keys in trials])
    return {suspect.part: suspect.probability for suspect in finding.suspects}


def item(name: str, *trials: dict[str, object]) -> float:
    finding = FOIL.reasoner.find([FOIL.trial(**keys) for keys in trials])
    return next(share.probability for share in finding.items if share.name == name)


def test_both_pins_held_on_the_guard_do_not_clear_a_cord_with_squeezed_pins() -> None:
    """Holding the plug presses squeezed pins home: the lamp goes out, and the fault may lie before that place all the same."""
    rest: dict[str, object] = {"saw": "left white"}
    short: dict[str, object] = {"unplugged": ["left weapon plug"], "bridged": "left weapon plug B-C", "saw": "nothing"}
    held = {**short, "move": ["hold left cord weapon plug"]}
    assert item("left cord", rest, held) > 2 * item("left cord", rest, short)


def test_hits_that_light_do_not_speak_of_a_flat_meter() -> None:
    lit = {**HIT, "saw": "left coloured", "times": 10}
    assert parts({**HIT, "saw": "left white"}, lit)["tools meter"] < 0.001


def test_quiet_after_an_exchange_says_little_of_a_fault_that_comes_and_goes() -> None:
    """One clean look after an exchange weighs less than several; neither is proof."""
    shows = {**TUG, "saw": "left white flickers", "times": 2}
    clean = {**TUG, "swapped": "left cord", "saw": "nothing"}
    once, often = (item("left cord", shows, {**clean, "times": count}) for count in (1, 4))
    assert once < often
    assert once < 0.97


def test_a_trial_that_all_others_agree_with_is_not_called_misread() -> None:
    """What points at the fault is not explained away as misread."""
    trials = [FOIL.trial(**HIT, saw="left white"), FOIL.trial(press="left", on="right cord clip", saw="left coloured")]
    trials.append(FOIL.trial(examine="right cord clip bite", found="off"))
    assert max(FOIL.reasoner.misread(FOIL.reasoner.find(trials), trials)) < 0.1


@pytest.mark.parametrize("weapon", ["foil", "sabre"])
def test_a_blade_that_was_seen_broken_is_out_of_use_whatever_was_said_before(weapon: str) -> None:
    """Common practice, no source: nobody takes a whole blade for a broken one, and nobody fences on with it."""
    told = load_complaints(load_setup(weapon), "left")
    blade = next(f.part for f in load_setup(weapon).failures.values() if f.out_of_use and f.item == "left weapon")
    look = {"examine": [blade], "found": "broken"}
    reasoning = REASONING
    for first in ([], *([each.table.model_dump(exclude_defaults=True)] for each in told)):
        case = made_case(CaseTable.model_validate({"weapon": weapon, "trial": [*first, look]}))
        diagnosis = reasoning.diagnose(case)
        assert [(act.kind, act.item) for act in diagnosis.ending.acts] == [(Kind.OUT_OF_USE, "left weapon")], first
        assert diagnosis.decision.enough
