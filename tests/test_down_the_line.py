"""A line followed down to the apparatus joint by joint, and what was seen at all of them noted in one go.

That the joints come in this order, and that the fault lies before the one at which the lamps first do as they should, is common
practice at the piste (no source); the lamps of a bridge follow from the loops of FIE Material Rules, August 2026, Annex B.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

import pytest

from foible.errors import InputError
from foible.records import CaseStore, Database
from foible.services.cases import Cases
from foible.services.down_the_line import down_the_line, followed
from foible.web.quick_answers import joint_answers, joints_told
from usual import REASONING

if TYPE_CHECKING:
    from pathlib import Path

    from foible.services.cases import Standing
    from foible.services.down_the_line import DownTheLine
    from foible.trials import Idea

AT_THE_CORD = {
    "foil": "unplug the left weapon and hold both pins of its cord on the guard",
    "épée": "unplug the left weapon and hold the A and B pins of its cord on a piece of metal",
    "sabre": "unplug the left weapon and hold the B and C pins of its cord on a piece of metal",
}
AT_THE_REEL = "draw the left floor cable half out of the reel and bridge its A and B pins"


@pytest.fixture
def cases(tmp_path: Path) -> Cases:
    store = CaseStore(Database(f"sqlite:///{tmp_path / 'r.db'}"), clock=lambda: datetime(2026, 10, 3, tzinfo=UTC))
    return Cases(REASONING, store)


def asked(weapon: str, say: str) -> Idea:
    found = REASONING.idea(REASONING.setup(weapon), say)
    assert found
    return found


def line(standing: Standing, weapon: str, say: str) -> DownTheLine | None:
    return down_the_line(standing.diagnosis, REASONING.ideas(REASONING.setup(weapon)), asked(weapon, say))


@pytest.mark.parametrize(
    ("weapon", "tells"),
    [
        ("foil", ("left", "white", "go out")),  # a closed loop B–C is silent, an open one lights white
        ("épée", ("left", "coloured", "light")),  # a closed loop A–B is a hit
        ("sabre", ("left", "white", "go out")),  # the control loop B–C must stay closed
    ],
)
def test_a_bridge_at_the_cord_is_followed_to_the_apparatus(weapon: str, tells: tuple[str, str, str], cases: Cases) -> None:
    found = line(cases.standing(cases.open(weapon, token="open").id), weapon, AT_THE_CORD[weapon])
    assert found
    places = [each.trial.arrangement.bridged[0][0] for each in found.farther]
    assert places == ["left reel plug", "left back plug", "left apparatus plug"]
    assert found.tells == tells


def test_nothing_lies_beyond_the_apparatus_and_only_a_bridge_is_followed(cases: Cases) -> None:
    standing = cases.standing(cases.open("épée", token="open").id)
    assert line(standing, "épée", "unplug the left floor cable from the apparatus and bridge A and B at the apparatus") is None
    assert line(standing, "épée", "press the left point on something that does not conduct") is None


def test_a_joint_that_was_tried_is_not_asked_for_again(cases: Cases) -> None:
    kept = cases.open("épée", token="open")
    standing = cases.standing(cases.answer(kept, AT_THE_REEL, ["nothing"], token="reel").id)
    found = line(standing, "épée", AT_THE_CORD["épée"])
    assert found
    assert AT_THE_REEL not in [each.say for each in found.farther]


def test_where_it_came_through_is_noted_as_one_trial_for_each_joint_up_to_it(cases: Cases) -> None:
    """Dark at the cord and at the reel's socket, red at the floor cable: it is the reel, which lies between the two."""
    kept = cases.open("épée", token="open")
    first = asked("épée", AT_THE_CORD["épée"])
    joints = joint_answers(cases.standing_of(kept), REASONING.ideas(REASONING.setup("épée")), first)
    assert joints
    assert (joints.lamp, joints.does, joints.nowhere.words) == ("red", "light", "nowhere")
    told = joints_told(next(each.value for each in joints.here if each.words == AT_THE_REEL))
    made = [first, *(cases.asked(kept, say) for say in told.farther)]
    assert told.lit == ({}, {}, {"left_coloured": "steady"})
    reports = [["nothing"], ["nothing"], ["left coloured"]]
    after = followed(cases, kept, made, reports, token="line")
    assert [entry.say for entry in after.entries] == [each.say for each in made]
    assert cases.standing_of(after).diagnosis.finding.items[0].name == "left reel"


def test_dark_at_every_joint_it_is_the_apparatus(cases: Cases) -> None:
    kept = cases.open("épée", token="open")
    first = asked("épée", AT_THE_CORD["épée"])
    joints = joint_answers(cases.standing_of(kept), REASONING.ideas(REASONING.setup("épée")), first)
    assert joints
    told = joints_told(joints.nowhere.value)
    assert told.lit == ({},) * 4
    made = [first, *(cases.asked(kept, say) for say in told.farther)]
    after = followed(cases, kept, made, [["nothing"]] * 4, token="line")
    assert cases.standing_of(after).diagnosis.finding.items[0].name == "apparatus"


def test_what_bridges_nothing_is_answered_by_itself(cases: Cases) -> None:
    kept = cases.open("épée", token="open")
    press = asked("épée", "press the left point on something that does not conduct")
    with pytest.raises(InputError, match="bridges nothing"):
        followed(cases, kept, [press], [["nothing"]], token="line")
    assert not cases.store.case(kept.id).entries
