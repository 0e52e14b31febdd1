"""Whoever follows this program's advice about a hidden fault: what is tried again, measured again, and believed.

That nothing is mended before something was found, and that what was mended is measured again, is common practice, no source.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from foible.diagnosis import Activity, StagedFault
from foible.practice import NOTHING_WRONG, Attempt, Deed, Level, Step, judged, shows_fault, staged
from foible.services.practice.plans import following_advice
from foible.situation import Mode, Situation
from foible.trials import CaseTable, made_case
from usual import REASONING

if TYPE_CHECKING:
    from foible.practice import Hidden

pytestmark = pytest.mark.once


def made(weapon: str, failure: str, seed: int, activity: Activity = Activity.STEADY) -> Hidden:
    """Return a fault of a weapon's kit as a hidden one."""
    setup = REASONING.setup(weapon)
    known = setup.failures[failure]
    return staged(setup, [StagedFault(known, known.usual_ohms, activity)], seed)


def tried(hidden: Hidden, say: str) -> Attempt:
    """Return an attempt with one trial, found by its sentence."""
    ideas = REASONING.ideas(hidden.setup)
    place = next(place for place, idea in enumerate(ideas) if idea.say == say)
    return Attempt(hidden, ideas, (Step(Deed.TRIAL, place),))


LEAK = "left floor cable insulation B-C: leak between the lines"


@pytest.mark.parametrize(("lines", "shows"), [("A and B", False), ("B and C", True)])
def test_an_open_reading_shows_a_fault_only_where_sound_kit_reads_otherwise(lines: str, shows: bool) -> None:  # noqa: FBT001
    """Between the lines of a sound cable a meter reads nothing: common practice, no source."""
    attempt = tried(made("sabre", LEAK, 0), f"hold the meter between lines {lines} of the left floor cable")
    assert shows_fault(attempt, attempt.done[0]) == shows


def test_on_the_bench_nothing_is_mended_before_something_was_found() -> None:
    hidden = made("sabre", LEAK, 0)
    attempt = following_advice(REASONING, hidden, REASONING.ideas(hidden.setup))
    found = [shows_fault(attempt, done) for done in attempt.done]
    mended = [step.deed is Deed.MEND for step in attempt.steps]
    assert True in found
    assert True not in mended[: found.index(True)]
    assert judged(attempt).right


def test_what_comes_and_goes_comes_up_again_while_they_fence_and_what_is_always_there_as_it_was_told() -> None:
    """A lamp that is lit by a loose contact is not lit all the time: common practice, no source."""
    wire = "left cord C wire at the reel plug: broken where it leaves the plug"
    comes, stays = made("sabre", wire, 2, Activity.OFTEN), made("sabre", wire, 2)
    assert comes.complaint is not None
    assert stays.complaint is not None
    assert comes.complaint.say == "My white lamp is on all the time"
    called, told = (Attempt(each, REASONING.ideas(each.setup), (Step(Deed.NAME, 0),)).done[0].table for each in (comes, stays))
    assert called is not None
    assert told is not None
    assert (called.move, called.saw, called.times) == (("fence left",), ("left white flickers",), 1)
    assert (told.move, told.saw) == ((), stays.complaint.table.saw)


def test_whoever_is_called_again_looks_elsewhere() -> None:
    """Another sabre works twice by chance: the fault was in the cord, and white comes up again in the bout."""
    hidden = made("sabre", "left cord B wire at the reel plug: broken where it leaves the plug", 2, Activity.OFTEN)
    attempt = following_advice(REASONING, hidden, REASONING.ideas(hidden.setup))
    assert [naming.item for naming in attempt.namings][:2] == ["left weapon", NOTHING_WRONG]
    assert judged(attempt).right


def test_on_the_bench_only_the_tools_that_an_item_is_tried_with_are_suspected() -> None:
    """A cuff is measured and looked at; shims and weights go to points (m.19.4, m.11.3)."""

    def tools(weapon: str, item: str) -> set[str]:
        case = made_case(CaseTable(weapon=weapon))
        situation = Situation(Mode.BENCH, item, ("meter", "weight", "shims", "screwdriver"))
        suspects = REASONING.at(situation).diagnose(case).finding.suspects
        return {each.part for each in suspects if each.item == "tools"}

    assert tools("sabre", "left cuff") == tools("sabre", "left lamé") == {"tools meter"}
    assert {"tools meter", "tools 0.5 mm shim", "tools 750 g weight"} <= tools("épée", "left weapon")


def test_whoever_is_told_that_it_is_always_there_moves_nothing_and_measures_in_the_end() -> None:
    """With this number an eye finds the guard fine; what the meter is then held to is common practice, no source."""
    hidden = made("foil", "left weapon guard surface: oxidised, dirty or lacquered", 2)
    assert hidden.level is Level.STEADY
    attempt = following_advice(REASONING, hidden, REASONING.ideas(hidden.setup))
    assert judged(attempt).right
    trials = [each.idea.trial for each in attempt.done if each.idea]
    assert not any(trial.moves for trial in trials)
    assert any(trial.examine == ("left weapon guard surface",) for trial in trials)


def test_white_at_an_epee_is_reported_where_the_apparatus_is_set_to_another_weapon() -> None:
    """An épée's loop is open at rest, which is white at sabre: FIE Material Rules, August 2026, Annex B, A.2 and C."""
    hidden = made("épée", "apparatus weapon setting: set to sabre", 0)
    ideas = REASONING.ideas(hidden.setup)
    exchanged = Attempt(hidden, ideas, (Step(Deed.EXCHANGE, list(hidden.setup.items).index("left weapon")),)).done[0]
    assert exchanged.table is not None
    assert {"left white", "right white"} <= {*exchanged.table.saw}
    assert judged(following_advice(REASONING, hidden, ideas)).right
