"""What sets of tools can tell: by hand, against a second way of reckoning, and against what every armourer knows.

IEEE Std 1522 is quoted from memory: the fraction of faults detected and those isolated to groups of at most 1, 2 and 3 never fall
in the order FFI(1), FFI(2), FFI(3), FFD.
"""

from __future__ import annotations

import json
from functools import lru_cache
from itertools import combinations, pairwise
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
import typer
from docs import make_testability
from typer.testing import CliRunner

from foible.cli import show_testability as shown
from foible.cli import testability as cli
from foible.diagnosis import testability as module
from foible.diagnosis.advice.outcomes import OutcomeTables
from foible.diagnosis.separation import Separation
from foible.diagnosis.shown.hypotheses import Activity
from foible.diagnosis.testability import AT_HAND, EYE, STANDARD_SETS, Figures
from foible.errors import UnknownNameError
from foible.services.reasoning import Reasoning
from foible.trials import load_catalogue
from strip import strip

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

pytestmark = pytest.mark.once

ROOT = Path(__file__).parent.parent
WEAPONS = ("foil", "épée", "sabre")
BLADE_WIRE = "left weapon wire along the blade: broken in the groove"
POINT_SEAT = "left weapon point seat: dirty or corroded"
CONTACT_CUP = "left weapon contact cup: oxidised"


@lru_cache
def separation(weapon: str) -> Separation:
    return Separation(strip(weapon).reasoner, strip(weapon).reasoner.ideas)


@lru_cache
def known(weapon: str, name: str) -> module.Testability:
    return separation(weapon).testability(STANDARD_SETS[name])


def shares(of: Figures) -> list[float]:
    return [of.detected, *of.to_item, *of.to_part, *of.to_repair]


class TestOnThreeFailuresAndTwoTrials:
    """Sound kit, and failures a (half of all), b (three in ten), c (two in ten), with two trials that show lit or dark.

    | lit in  | sound | a   | b   | c   |
    | ------- | ----- | --- | --- | --- |
    | trial 1 | 0.9   | 0.1 | 0.2 | 0.8 |
    | trial 2 | 0.9   | 0.9 | 0.8 | 0.3 |

    With two outcomes the total variation distance is the difference of the chances of one. Trial 1 tells a (0.8) and b (0.7) from
    sound kit, and both from c (0.7, 0.6), but neither c from sound kit (0.1) nor a from b (0.1). Trial 2 tells c from sound kit
    (0.6) and from a (0.6) and, by the skin of its teeth, from b (0.5).

    So trial 1 alone detects a and b, 0.8 of all, and isolates none to one failure, both to at most two. Both trials detect all;
    c is isolated, 0.2 of all, and with at most two failures all are. If a and b are of one item, all are isolated to one item.
    """

    LIT = ((0.9, 0.1, 0.2, 0.8), (0.9, 0.9, 0.8, 0.3))
    WEIGHT = np.array([0.0, 0.5, 0.3, 0.2])
    EACH = np.arange(4)
    FAILURE = np.array([0, 0, 1, 2])
    ITEM = np.array([0, 0, 0, 1])

    def told(self, *trials: int) -> NDArray[np.bool_]:
        tables = [np.array([self.LIT[trial], 1 - np.array(self.LIT[trial])]) for trial in trials]
        return np.asarray(np.logical_or.reduce([module.told_apart(table) for table in tables]))

    def figures(self, *trials: int) -> Figures:
        told = self.told(*trials)
        sizes = [module.group_sizes(told, self.EACH, label) for label in (self.ITEM, self.FAILURE, self.FAILURE)]
        return module.figures(self.WEIGHT, told[0], sizes)

    def test_one_trial_detects_two_and_isolates_neither(self) -> None:
        of = self.figures(0)
        assert of.detected == pytest.approx(0.8)
        assert of.to_part == pytest.approx((0.0, 0.8, 0.8))
        assert of.to_item == pytest.approx((0.8, 0.8, 0.8))

    def test_two_trials_detect_all_and_isolate_one(self) -> None:
        of = self.figures(0, 1)
        assert of.detected == pytest.approx(1.0)
        assert of.to_part == pytest.approx((0.2, 1.0, 1.0))
        assert of.to_item == pytest.approx((1.0, 1.0, 1.0))

    def test_a_distance_of_one_half_is_enough(self) -> None:
        assert self.told(1)[2, 3]

    def test_what_is_left_together_is_named(self) -> None:
        groups = module.ambiguity_groups(self.told(0, 1), self.WEIGHT)
        assert [group.tolist() for group in groups] == [[1, 2], [3]]

    def test_what_is_not_detected_is_in_no_group(self) -> None:
        groups = module.ambiguity_groups(self.told(0), self.WEIGHT)
        assert [group.tolist() for group in groups] == [[1, 2]]


@pytest.mark.parametrize("seed", range(20))
def test_groups_share_the_detected_kinds_out_and_none_holds_two_that_are_told_apart(seed: int) -> None:
    rng = np.random.default_rng([1522, seed])
    told = np.triu(rng.random((40, 40)) < 0.4, 1)
    told |= told.T
    groups = module.ambiguity_groups(told, np.append(0.0, rng.uniform(1, 2, 39)))
    assert sorted(np.concatenate(groups).tolist()) == np.flatnonzero(told[0]).tolist()
    assert not any(told[a, b] for group in groups for a, b in combinations(group.tolist(), 2))


@pytest.mark.slow
@pytest.mark.parametrize("weapon", WEAPONS)
class TestFigures:
    def test_rise_with_the_size_of_the_group_up_to_what_is_detected(self, weapon: str) -> None:
        """IEEE Std 1522, from memory: FFI(1) ≤ FFI(2) ≤ FFI(3) ≤ FFD."""
        for name in STANDARD_SETS:
            made = known(weapon, name)
            for of in (made.overall, *made.split.values()):
                for isolated in (of.to_item, of.to_part, of.to_repair):
                    rising = [0.0, *isolated, of.detected, 1.0]
                    assert all(a <= b + 1e-9 for a, b in pairwise(rising)), (name, rising)

    def test_never_fall_when_a_tool_is_added(self, weapon: str) -> None:
        ranked = [(set(tools), shares(known(weapon, name).overall)) for name, tools in STANDARD_SETS.items()]
        compared = [(few, many) for a, few in ranked for b, many in ranked if a < b]
        assert len(compared) == 18  # 6 hold lamps only, 5 lamps and eye, 2 each single tool, 1 all three tools
        assert all(x <= y + 1e-9 for few, many in compared for x, y in zip(few, many, strict=True))

    def test_of_steady_and_intermittent_failures_make_up_those_of_all(self, weapon: str) -> None:
        made = known(weapon, "with a meter")
        assert sum(of.share for of in made.split.values()) == pytest.approx(1.0)
        mixed = sum(of.share * np.array(shares(of)) for of in made.split.values())
        assert mixed == pytest.approx(shares(made.overall))

    def test_leave_over_what_is_named_as_not_detected(self, weapon: str) -> None:
        for name in ("lamps only", "everything"):
            made = known(weapon, name)
            assert sum(share for _, share in made.undetected) == pytest.approx(1 - made.overall.detected)

    def test_isolate_to_a_part_or_a_repair_no_sooner_than_to_its_item(self, weapon: str) -> None:
        """A part belongs to one item, and a repair is named with its item: neither is known sooner than the item."""
        for name in STANDARD_SETS:
            of = known(weapon, name).overall
            assert of.to_part[0] <= of.to_item[0] + 1e-9
            assert of.to_repair[0] <= of.to_item[0] + 1e-9

    def test_groups_are_named_largest_first_and_hold_several(self, weapon: str) -> None:
        groups = known(weapon, "with a meter").groups
        assert all(len(group.names) > 1 for group in groups)
        assert all(a.share >= b.share - 1e-9 for a, b in pairwise(groups))
        assert len({frozenset(group.names) for group in groups}) == len(groups)
        assert sum(group.share for group in groups) <= known(weapon, "with a meter").overall.detected


@pytest.mark.slow
@pytest.mark.parametrize("tools", [(), (EYE,), (EYE, "meter"), AT_HAND], ids=" ".join)
def test_a_second_way_of_reckoning_comes_to_the_same(tools: tuple[str, ...]) -> None:
    """Épée: sixty hypotheses of both sides at random, every trial of the catalogue worked out for them, no mirror image taken."""
    told, kind = separation("épée").separated(tools)
    chosen = drawn()
    by_hand = np.zeros((len(chosen), len(chosen)), dtype=np.bool_)
    for needs, distance in distances():
        if needs <= set(tools):
            by_hand |= distance >= 0.5
    # without “something this model does not know”, which stands second, positions are one less from there on
    of = kind[np.where(chosen > 0, chosen - 1, 0)]
    close = np.logical_or.reduce([abs(distance - 0.5) < 1e-3 for needs, distance in distances() if needs <= set(tools)])
    differ = (told[np.ix_(of, of)] != by_hand) & ~close
    assert not differ.any()
    assert by_hand.any()
    assert not by_hand.all()


@lru_cache
def drawn() -> NDArray[np.intp]:
    """Return positions of hypotheses, sound kit first."""
    hypotheses = strip("épée").reasoner.hypotheses
    rng = np.random.default_rng(1522)
    return np.append(0, np.sort(rng.choice(np.arange(2, len(hypotheses)), size=60, replace=False))).astype(np.intp)


@lru_cache
def distances() -> list[tuple[set[str], Floats]]:
    """Return the needs of every trial with the total variation distances between what the drawn hypotheses show."""
    reasoner = strip("épée").reasoner
    hypotheses, chosen = reasoner.hypotheses, drawn()
    outcome_tables = OutcomeTables(reasoner.setup, hypotheses, reasoner.dictionary, reasoner.trial_likelihood)
    failures = [hypotheses.failures[i] if i >= 0 else None for i in hypotheses.failure[chosen].tolist()]
    found = []
    for idea in load_catalogue(reasoner.setup):
        table = outcome_tables.experiment(idea, chosen, hypotheses.prior[chosen]).chance.astype(np.float64)
        for column, failure in enumerate(failures):
            elsewhere = failure and failure.item != idea.item and reasoner.setup.items[failure.item].side is not None
            if idea.item is not None and elsewhere:
                table[:, column] = table[:, 0]
        distance = np.abs(table[:, :, None] - table[:, None, :]).sum(axis=0) / 2
        found.append(({*idea.needs, EYE} if idea.trial.examine else set(idea.needs), distance))
    return found


class TestArmourersKnow:
    """Common practice, no source."""

    @pytest.mark.parametrize("joint", [POINT_SEAT, CONTACT_CUP, "left weapon wire behind the guard: crushed or broken"])
    def test_that_one_loop_is_one_resistance_to_the_apparatus(self, joint: str) -> None:
        """Joints in series in the loop of a foil: wherever it is cut for good, the same lamps light."""
        assert not separation("foil").apart(BLADE_WIRE, joint, ())

    def test_that_a_meter_tells_a_broken_blade_wire_from_a_dirty_point(self) -> None:
        assert separation("foil").apart(BLADE_WIRE, POINT_SEAT, ("meter",))
        assert not separation("foil").apart(BLADE_WIRE, POINT_SEAT, (EYE, "spare"))

    @pytest.mark.parametrize("joint", [POINT_SEAT, CONTACT_CUP])
    def test_that_bending_the_blade_brings_a_broken_wire_out_and_leaves_the_point_alone(self, joint: str) -> None:
        foil = separation("foil")
        assert foil.apart(BLADE_WIRE, joint, ("meter",), activity=Activity.SELDOM)
        assert not foil.apart(CONTACT_CUP, "left weapon pressure spring: broken or dirty", (), activity=Activity.SELDOM)

    @pytest.mark.parametrize("weapon", WEAPONS)
    def test_that_no_tool_finds_the_place_of_a_lasting_break_in_a_moulded_line(self, weapon: str) -> None:
        """A meter at both ends of a line sees that it is open, not where."""
        line = "A" if weapon == "épée" else "B"
        ends = f"left cord {line} wire at the reel plug: broken where it leaves the plug"
        assert not separation(weapon).apart(f"left cord {line} wire, middle: broken in the middle", ends, AT_HAND)

    @pytest.mark.parametrize("weapon", WEAPONS)
    def test_that_a_meter_finds_more_than_a_test_box(self, weapon: str) -> None:
        for of_box, of_meter in zip(
            shares(known(weapon, "with a test box").overall), shares(known(weapon, "with a meter").overall), strict=True
        ):
            assert of_box < of_meter

    @pytest.mark.parametrize("weapon", WEAPONS)
    def test_that_a_spare_names_the_item_and_shows_no_failure_that_was_not_seen_before(self, weapon: str) -> None:
        eye, spare = known(weapon, "lamps and eye").overall, known(weapon, "with spares").overall
        assert spare.to_item[0] > eye.to_item[0] + 0.01
        assert spare.detected == pytest.approx(eye.detected, abs=1e-3)

    def test_that_what_is_seldom_is_found_less_than_what_is_there_for_good(self) -> None:
        for weapon in WEAPONS:
            split = known(weapon, "lamps only").split
            assert split[Activity.SELDOM].detected < split[Activity.STEADY].detected


def test_one_repair_for_a_whole_group_is_said() -> None:
    """Both pins of a two-pin plug are set the same way."""
    pins = [f"left cord weapon plug {line} pin: squeezed, dirty or screw loose" for line in "BC"]
    (group,) = [group for group in known("sabre", "lamps and eye").groups if set(group.names) == set(pins)]
    assert group.same_repair
    assert group.items == ("left cord",)
    assert shown.mending(group) == "set the plug pins"


def test_a_tool_that_there_is_not_and_a_severity_that_does_not_come_are_refused() -> None:
    with pytest.raises(UnknownNameError, match="hammer"):
        separation("foil").testability(["hammer"])
    with pytest.raises(ValueError, match="does not occur at 17 Ω"):
        separation("foil").apart(BLADE_WIRE, POINT_SEAT, (), ohms=17.0)


def test_the_page_is_what_the_kit_files_give() -> None:
    """`make docs` remakes it."""
    page = (ROOT / "docs" / "testability.md").read_text(encoding="utf-8")
    assert page == make_testability.page({weapon: {name: known(weapon, name) for name in STANDARD_SETS} for weapon in WEAPONS})


class TestCommand:
    @pytest.fixture
    def run(self, monkeypatch: pytest.MonkeyPatch) -> typer.Typer:
        def testability(_: Reasoning, weapon: str, sets: dict[str, tuple[str, ...]]) -> dict[str, module.Testability]:
            return {name: separation(weapon).testability(tools) for name, tools in sets.items()}

        monkeypatch.setattr(Reasoning, "testability", testability)
        command = typer.Typer()
        command.command()(cli.testability)
        return command

    def test_prints_the_usual_sets_and_what_is_left_alike(self, run: typer.Typer) -> None:
        said = CliRunner().invoke(run, ["--weapon", "sabre", "--groups", "3"], env={"COLUMNS": "200"})
        assert said.exit_code == 0
        for name in STANDARD_SETS:
            (line,) = [line for line in said.output.splitlines() if line.startswith(name) and "not" not in line][:1]
            if name != "everything":
                assert line.split()[-10:] == shown.percentages(known("sabre", name).overall)
        assert "everything: not told apart" in said.output
        assert shown.words(known("sabre", "everything").groups[0].failures).split(",")[0] in said.output

    def test_takes_tools_with_eye_and_hand_thrown_in(self, run: typer.Typer) -> None:
        for given, tools in (("meter, box", (EYE, "meter", "box")), ("none", (EYE,)), ("lamps", ()), ("lamps,box", ("box",))):
            said = CliRunner().invoke(run, ["--json", "--groups", "0", "--tools", given])
            (only,) = json.loads(said.output)["sets"]
            assert tuple(only["tools"]) == tools

    def test_json_has_the_documented_keys_and_nothing_else(self, run: typer.Typer) -> None:
        said = json.loads(CliRunner().invoke(run, ["--json", "--groups", "2"]).output)
        documented = (ROOT / "docs" / "testability.md").read_text(encoding="utf-8").split("## JSON")[1]
        keys = {"schema", "weapon", "sets", *said["sets"][0], *said["sets"][0]["split"]}
        keys |= {key for entry in said["sets"] for part in ("groups", "undetected") for row in entry[part] for key in row}
        assert set(said) | keys == keys
        assert [key for key in keys if f"`{key}" not in documented] == []
        assert said["sets"][-1]["tools"] == list(AT_HAND)
        assert len(said["sets"][0]["groups"]) == 2

    def test_refuses_a_tool_that_there_is_not(self, run: typer.Typer) -> None:
        assert isinstance(CliRunner().invoke(run, ["--tools", "hammer"]).exception, UnknownNameError)
