"""Reports of lamps that leave something open: white with coloured at sabre, orange at épée, yellow beside another lamp.

FIE Material Rules (Book 3), August 2026, Annex B: C(b)7, white at sabre is the control circuit and no hit lamp; B(e)4, the orange
lamp at épée is optional. That white mostly blocks hits is judgement, no clause says it.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from foible.apparatus import Lamp
from foible.diagnosis.belief.lamp_reports import lamp_states
from foible.errors import InputError
from foible.kit import weapon_at
from foible.trials import BOTH, CaseTable, Group, earth_unsaid, made_case, read_seen
from strip import strip
from usual import REASONING

if TYPE_CHECKING:
    from foible.trials import Case

SABRE = strip("sabre")
CUT_BROKEN = "left cord B wire, middle: broken in the middle"
DARK, WHITE, COLOURED, LIT_BEFORE = range(4)


def case_of(weapon: str, *trials: dict[str, object]) -> Case:
    return made_case(CaseTable.model_validate({"weapon": weapon, "trial": trials}), name="a case")


def item_share(weapon: str, item: str, *trials: dict[str, object]) -> float:
    found = REASONING.diagnose(case_of(weapon, *trials)).finding
    return next(share.probability for share in found.items if share.name == item)


# --- white and coloured at sabre --------------------------------------------------------------------------------------


def test_white_and_coloured_together_can_be_entered_at_sabre() -> None:
    seen = SABRE.trial(cut="left", on="right lamé front", saw=["left white", "left coloured"]).seen
    assert seen is not None
    assert seen.looks == {("left", Group.CUT): {(BOTH, BOTH)}}


@pytest.mark.parametrize(
    ("phrases", "looks"),
    [
        (["left white", "left coloured sometimes"], {(WHITE, BOTH), (LIT_BEFORE, BOTH)}),
        (["left white sometimes", "left coloured sometimes"], {(DARK, BOTH), (WHITE, COLOURED), (COLOURED, LIT_BEFORE)}),
        (["left white", "left no coloured"], {(WHITE, WHITE)}),
        (["left white"], {(WHITE, WHITE)}),
    ],
)
def test_each_lamp_of_a_sabre_has_its_own_manner(phrases: list[str], looks: set[tuple[int, int]]) -> None:
    assert read_seen(phrases, hit=Group.CUT).looks == {("left", Group.CUT): looks}


def test_a_foil_still_shows_one_or_the_other() -> None:
    """A.1(a)4."""
    with pytest.raises(InputError, match="contradict"):
        read_seen(["left white", "left coloured"])


def test_a_broken_control_loop_blocks_a_hit_mostly_and_not_always() -> None:
    cut = SABRE.arrangement(cut="left", on="right lamé front")
    lamps = SABRE.lamps(cut, put_in={"left cord B wire, middle": 1e9})
    assert lamps["left white"] == 1
    assert 0.05 < lamps["left coloured"] < 0.5
    assert SABRE.lamps(cut)["left coloured"] == 1


def test_white_with_coloured_speaks_for_one_line_of_the_control_loop() -> None:
    """One line is cut, and the other still leads the hit: both together point at the loop, not at a wrongly set apparatus."""
    both = {"cut": "left", "on": "right lamé front", "saw": ["left white", "left coloured"], "times": 2}
    assert item_share("sabre", "left cord", both) + item_share("sabre", "left weapon", both) > 0.5
    assert item_share("sabre", "apparatus", both) < 0.1


@pytest.mark.parametrize("white", [0.0, 0.3, 1.0])
@pytest.mark.parametrize("before", [0.0, 1.0])
def test_the_states_of_a_look_add_up_to_one(white: float, before: float) -> None:
    """Where the apparatus blocks, never both; where it does not, both as often as white with a closed target."""
    lamps = np.zeros((1, 2, 3))
    lamps[0, 0, Lamp.WHITE] = white
    block = 0.7
    lamps[0, 0, Lamp.COLOURED] = 1 - block * white  # the target is closed
    first = np.zeros((1, 2, 3))
    first[0, 0, Lamp.WHITE] = before
    ways = lamp_states(lamps, first, ["left"], weapon_at("sabre"))
    assert [share for share, _ in ways] == pytest.approx([block, 1 - block])
    for (_, states), both in zip(ways, (0, white), strict=True):
        hits = states["left", Group.CUT][:, 0]
        assert hits.sum() == pytest.approx(1)
        assert hits.min() >= -1e-12
        assert hits[BOTH] == pytest.approx(both)


# --- the orange lamp at épée ------------------------------------------------------------------------------------------

ORANGE: dict[str, object] = {"saw": "left orange", "sure": True}
APART = {"unplugged": "left weapon plug"}


def test_nothing_speaks_of_the_orange_lamp_once_it_was_seen_lit() -> None:
    """An orange complaint, unplugged: “nothing” said less than “left no orange”, as if the apparatus might have no such lamp."""
    plain = item_share("épée", "left weapon", ORANGE, {**APART, "saw": "nothing"})
    spelt = item_share("épée", "left weapon", ORANGE, {**APART, "saw": ["nothing", "left no orange", "right no orange"]})
    assert plain == pytest.approx(spelt)


def test_nothing_leaves_the_orange_lamp_open_where_nobody_has_spoken_of_it() -> None:
    """B(e)4: an apparatus may do without."""
    (first,) = case_of("épée", {**APART, "saw": "nothing"}).trials
    assert first.seen is not None
    assert {group for _, group in first.seen.looks} == {Group.HIT}
    _, second = case_of("épée", {"saw": "left no orange"}, {**APART, "saw": "nothing"}).trials
    assert second.seen is not None
    assert {group for _, group in second.seen.looks} == {Group.HIT}


def test_yellow_that_was_lit_is_asked_after_where_an_answer_leaves_it_unsaid() -> None:
    trials = case_of("sabre", {"saw": "left yellow"}).trials
    assert earth_unsaid(trials, ["left white"]) == ("left",)
    assert earth_unsaid(trials, ["left white", "left no yellow"]) == ()
    assert earth_unsaid(trials, ["right white"]) == ()
    assert earth_unsaid(trials, ["nothing"]) == ()
    assert earth_unsaid((), ["left white"]) == ()
