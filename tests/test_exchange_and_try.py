"""An exchange is tried before it is named: a good item goes in and what failed is done again. Common practice, no source."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from foible.diagnosis import Kind
from foible.diagnosis.advice.model import DecisionModel
from foible.diagnosis.belief.as_told import as_told
from foible.diagnosis.shown.hypotheses import UNKNOWN
from foible.diagnosis.shown.presence import UNKNOWN_AT
from foible.services.acting import act_of
from foible.situation import Mode, Situation
from foible.trials import CaseTable, complaint_named, load_catalogue, load_complaints, made_case
from strip import strip
from usual import REASONING

if TYPE_CHECKING:
    from foible.services.verdict import Diagnosis
    from foible.trials import Idea

FOIL, SABRE, EPEE = strip("foil"), strip("sabre"), strip("épée")
ON = "My white lamp is on all the time"
LIT = "The small yellow lamp on my side is lit"
ON_ME = "Good cuts on me give no light"
WHITE = "I hit the lamé and it came up white"
GRAZED = "I hit nothing valid and my colour lit"
COMES = "It goes white, and I never hit anything"
SHORTED: dict[str, object] = {"unplugged": ["left weapon plug"], "bridged": ["left weapon plug B-C"]}


def after(weapon: str, complaint: str, *trials: dict[str, object], place: Situation | None = None) -> Diagnosis:
    """Return the diagnosis of a case that begins with a complaint of the left fencer."""
    told = complaint_named(load_complaints(strip(weapon).setup, "left"), complaint).table.model_dump(exclude_defaults=True)
    case = made_case(CaseTable.model_validate({"weapon": weapon, "complaint": complaint, "trial": [told, *trials]}))
    return (REASONING.at(place) if place else REASONING).diagnose(case)


def first(diagnosis: Diagnosis) -> Idea:
    return diagnosis.advice[0].idea


def test_what_is_named_is_exchanged_and_tried_first() -> None:
    """White all the time, both pins held on the guard clear it: another foil, and look again; only then is it named."""
    before = after("foil", ON, {**SHORTED, "saw": ["nothing"]})
    assert first(before).trial.swapped == ("left weapon",)
    assert not before.decision.enough
    passed = after("foil", ON, {**SHORTED, "saw": ["nothing"]}, {"swapped": ["left weapon"], "saw": ["nothing"]})
    assert passed.decision.enough
    assert [act.item for act in passed.ending.acts] == ["left weapon"]
    assert passed.ending.done


def test_an_exchange_that_does_not_help_leads_on() -> None:
    """The lamp stays on with another foil: the case goes on, and the foil is not exchanged again."""
    on = after("foil", ON, {**SHORTED, "saw": ["nothing"]}, {"swapped": ["left weapon"], "saw": ["left white"]})
    assert not on.decision.enough
    assert all(advice.idea.trial.swapped[-1:] != ("left weapon",) for advice in on.advice)


@pytest.mark.parametrize("named", ["apparatus weapon setting", "apparatus: set the apparatus to the weapon"])
def test_what_was_mended_is_done_whether_its_part_or_its_repair_is_named(named: str) -> None:
    """The apparatus was set to another weapon; it is set right, and what was complained of does not come back: fence on."""
    seen: dict[str, object] = {"examine": ["apparatus weapon setting"], "found": ["wrong setting"]}
    passed = after("foil", LIT, seen, {"mended": [named]}, {"mended": [named], "saw": ["left nothing", "right nothing"]})
    assert passed.ending.done
    assert passed.decision.enough


def test_what_comes_and_goes_is_done_again_with_the_new_item_in() -> None:
    """A beat brings it on, with another foil it does not: once more with that foil, and not a third time."""
    beat: dict[str, object] = {"move": ["beat left weapon blade"], "saw": ["left white flickers"]}
    quiet: dict[str, object] = {**beat, "swapped": ["left weapon"], "saw": ["nothing"]}
    brought_on = FOIL.trial(move="beat left weapon blade", saw="nothing").unseen()
    once, twice = after("foil", COMES, beat, quiet), after("foil", COMES, beat, quiet, quiet)
    assert not once.decision.enough
    assert first(once).trial == brought_on
    assert twice.decision.enough or first(twice).trial != brought_on


def test_what_never_showed_the_fault_is_not_done_again_to_prove_the_exchange() -> None:
    """With another cord the tug is quiet twice; feeling the other's grip then says nothing of the cord, and is not done again."""
    cut: dict[str, object] = {"cut": "right", "on": "left lamé front", "saw": ["right coloured"]}
    tug: dict[str, object] = {**cut, "move": ["tug left cord clip", "tug left cord reel plug"]}
    quiet: dict[str, object] = {**tug, "swapped": ["left cord"]}
    felt = ["right weapon grip nut", "right weapon socket nut"]
    feel: dict[str, object] = {"examine": felt, "found": ["fine"], "swapped": ["left cord"]}
    looked: dict[str, object] = {"examine": ["right weapon blade", "left cord clip bite"], "found": ["fine"]}
    begun = [looked, {**cut, "on": "left cord clip"}, cut, {**tug, "saw": ["right coloured sometimes"]}, quiet]
    assert first(after("sabre", ON_ME, *begun)).trial.moves == ("tug left cord clip", "tug left cord reel plug"), "it did show it"
    last = after("sabre", ON_ME, *begun, quiet, feel)
    assert last.decision.enough or first(last).trial.examine != tuple(felt)


def test_what_was_moved_when_the_fault_showed_is_exchanged_at_once() -> None:
    """Plain cuts light, one with a tug at the clip does not always: another cord, and the same tug again."""
    cut: dict[str, object] = {"cut": "right", "on": "left lamé front", "saw": ["right coloured"]}
    tug: dict[str, object] = {**cut, "move": ["tug left cord clip"]}
    before: list[dict[str, object]] = [
        {"examine": ["left cord clip bite"], "found": ["fine"]},
        {**cut, "on": "left cord clip"},
        cut,
        {**tug, "saw": ["right coloured sometimes"]},
    ]
    say = "Good cuts on me give no light"
    brought_out = after("sabre", say, *before)
    assert first(brought_out).trial.swapped == ("left cord",)
    assert first(brought_out).trial.moves == ("tug left cord clip",)
    passed = after("sabre", say, *before, {**tug, "swapped": ["left cord"]})
    assert passed.decision.enough, "it came with the tug, and not with another cord: a master stops here"
    assert [act.item for act in passed.ending.acts] == ["left cord"]
    assert not passed.ending.done, "once is no proof"
    act = act_of(passed)
    assert act is not None
    assert act.words == "leave the left cord exchanged, or put it right"
    assert act.why == "the fault came when it was moved, and not with a good one in its place"
    assert first(passed).trial.moves == ("tug left cord clip",)


def test_what_is_named_as_it_came_with_the_movement_is_proved_by_the_movement_and_given_up_where_that_fails() -> None:
    """Out it goes, and the tug is made three times with the good one; where it shows again, the cord was not all of it."""
    cut: dict[str, object] = {"cut": "right", "on": "left lamé front", "saw": ["right coloured"]}
    tug: dict[str, object] = {**cut, "move": ["tug left cord clip"]}
    begun: list[dict[str, object]] = [cut, {**tug, "saw": ["right coloured sometimes"]}, {**tug, "swapped": ["left cord"]}]
    out: list[dict[str, object]] = [*begun, {"swapped": ["left cord"]}]
    proving = after("sabre", ON_ME, *out)
    assert proving.advice[0].proves
    assert first(proving).trial.moves == ("tug left cord clip",)
    good: dict[str, object] = {**tug, "swapped": ["left cord"]}
    assert after("sabre", ON_ME, *out, good, good, good).ending.done
    again = after("sabre", ON_ME, *out, good, {**good, "saw": ["right coloured sometimes"]})
    assert not again.decision.enough
    assert not again.decision.follows
    assert first(again).trial.swapped != ("left cord",)


def test_an_item_that_was_not_moved_is_not_named_so_soon() -> None:
    """The tug was at the clip; that another sabre passes once, when it may have anyway, names no sabre."""
    cut: dict[str, object] = {"cut": "right", "on": "left lamé front", "saw": ["right coloured"]}
    tug: dict[str, object] = {**cut, "move": ["tug left cord clip"]}
    shown: dict[str, object] = {**tug, "saw": ["right coloured sometimes"]}
    assert not after("sabre", ON_ME, cut, shown, {**tug, "swapped": ["right weapon"]}).decision.follows


def test_of_hits_that_cost_the_same_the_one_that_tells_most_goes_first() -> None:
    """Two hits lit: both ends of the cord are tugged before the point is tapped, as that tells more and takes no longer."""
    hit: dict[str, object] = {"press": "left", "saw": ["left coloured"]}
    asked = after("épée", "My hits register only now and then", hit, hit)
    assert first(asked).trial.moves == ("tug left cord weapon plug", "tug left cord reel plug")
    tapped = next(advice for advice in asked.advice if "tap and turn the left point, then press" in advice.idea.say)
    assert tapped.bits < asked.advice[0].bits
    assert tapped.cost_s < asked.advice[0].cost_s < 1.01 * tapped.cost_s


def test_what_was_moved_is_exchanged_first_though_another_item_is_as_likely() -> None:
    """Two hits lit, one with a tug at the cord does not always: another cord, even if the épée is suspected as much."""
    hit: dict[str, object] = {"press": "left", "saw": ["left coloured"]}
    tug: dict[str, object] = {**hit, "move": ["tug left cord weapon plug", "tug left cord reel plug"]}
    asked = after("épée", "My hits register only now and then", hit, hit, {**tug, "saw": ["left coloured sometimes"]})
    assert asked.decision.chance < 0.5
    assert first(asked).trial.swapped == ("left cord",)


def test_what_shows_without_the_movement_as_well_was_not_brought_out_by_it() -> None:
    hit: dict[str, object] = {"press": "left", "saw": ["left coloured sometimes"]}
    tugged: dict[str, object] = {**hit, "move": ["tug left cord weapon plug", "tug left cord reel plug"]}
    assert first(after("épée", "My hits register only now and then", hit, hit, tugged)).trial.swapped != ("left cord",)


def test_at_the_piste_a_gauge_that_failed_is_not_tried_again_but_the_weapon_exchanged() -> None:
    """Nothing is taken apart there, and the exchange is tried anyway."""
    trials: list[dict[str, object]] = [
        {"move": ["beat left weapon blade"], "saw": ["nothing"]},
        {"press": "left", "move": ["tap left weapon point"], "saw": ["left coloured"]},
        {"gauge": "left 750 g weight", "found": ["fails"]},
    ]
    place = Situation(Mode.PISTE, None, ("spare", "weight", "shims"))
    failed = after("épée", "It lights when the blades meet", *trials, place=place)
    assert first(failed).trial.swapped == ("left weapon",)


def test_both_plugs_of_a_cord_are_one_look() -> None:
    """Whoever looks whether a plug sits home looks at the other end too: one trial, and none of the two is offered again."""
    both = next(idea for idea in load_catalogue(FOIL.setup) if idea.say.startswith("look whether both plugs of the left cord"))
    assert both.trial.examine == ("left cord weapon plug seat", "left cord reel plug seat")
    case = after("foil", COMES, {"examine": [*both.trial.examine], "found": ["fine"]})
    assert not any({*both.trial.examine} & {*advice.idea.trial.examine} for advice in case.advice)


def test_which_of_several_things_is_loose_may_be_felt_one_by_one() -> None:
    """A foil felt over in one go: found fine, none of it is asked for again; something loose, and each may be felt by itself."""
    over = next(idea for idea in load_catalogue(FOIL.setup) if idea.say.startswith("feel the left foil over"))
    read: dict[str, object] = {
        "meter": ["left weapon B contact of the socket", "left weapon C contact of the socket"],
        "reads": "6.4",
    }
    bench = REASONING.at(Situation(Mode.BENCH, "left weapon", ("meter", "screwdriver")))
    asked = {}
    for found in ("fine", "loose"):
        trials = [read, {"examine": [*over.trial.examine], "found": [found]}]
        made = bench.diagnose(made_case(CaseTable.model_validate({"weapon": "foil", "trial": trials})))
        asked[found] = {advice.idea.trial.examine for advice in made.advice}
    assert not any({*over.trial.examine} & {*examined} for examined in asked["fine"])
    assert asked["loose"] >= {("left weapon grip nut",), ("left weapon socket nut",)}
    assert over.trial.examine not in asked["loose"]


def test_what_comes_and_goes_at_rest_is_provoked_before_it_is_watched() -> None:
    """White that comes and goes: the pins are held on the guard and the cord tugged; white that stays needs no tug."""
    for say, moves in ((COMES, True), (ON, False)):
        table: dict[str, object] = {"saw": ["left white flickers"]} if moves else {"saw": ["left white"]}
        case = made_case(CaseTable.model_validate({"weapon": "foil", "complaint": say, "trial": [table]}))
        asked = first(REASONING.diagnose(case)).trial
        assert "left weapon plug" in asked.arrangement.unplugged
        assert bool(asked.moves) is moves


def test_the_exchange_does_again_what_failed_with_the_strip_whole() -> None:
    """White though the pins are bridged: a new cord goes in and is plugged in at both ends; the bridge is not made again."""
    case = after("foil", ON, {**SHORTED, "saw": ["left white"]})
    cords = [advice.idea.trial for advice in case.advice if advice.idea.trial.swapped == ("left cord",)]
    assert cords
    assert not any(trial.arrangement.unplugged or trial.arrangement.bridged for trial in cords)


def test_an_item_is_offered_for_exchange_once() -> None:
    """A cord that may be bad and whose plug may be loose is one cord."""
    says = [advice.idea.say for advice in after("sabre", ON).advice]
    assert len(says) == len(set(says))


def test_without_a_spare_no_known_good_item_is_offered() -> None:
    bare = after("foil", ON, {**SHORTED, "saw": ["nothing"]}, place=Situation(Mode.PISTE, tools=()))
    assert all("known-good" not in advice.idea.say for advice in bare.advice)


@pytest.mark.parametrize("weapon", ["foil", "sabre"])
def test_a_lamp_that_is_on_all_the_time_has_been_looked_at_often(weapon: str) -> None:
    """A cord that opens now and then would have let it go out: what the bridge clears is the weapon."""
    line: dict[str, object] = {"unplugged": ["left weapon plug"], "bridged": ["left weapon plug B-C"], "saw": ["nothing"]}
    named = {aim.name: share for aim, share in after(weapon, ON, line).decision.aims}
    assert named["left weapon"] > 0.9
    assert named.get("left cord", 0.0) < 0.05


@pytest.mark.parametrize(
    ("weapon", "rest", "press"),
    [
        ("foil", "left white", {"press": "left", "on": "right lamé front", "saw": "left white"}),
        ("épée", "left coloured", {"press": "left", "saw": "left coloured"}),
    ],
)
def test_who_presses_while_a_lamp_is_lit_does_not_say_that_it_lit_with_the_press(
    weapon: str, rest: str, press: dict[str, object]
) -> None:
    """The lamp is on all the time, and it is on when the point is pressed too: no riddle."""
    kit = strip(weapon)
    trials = [kit.trial(saw=rest, times=3), kit.trial(**press)]
    found = kit.reasoner.find(trials)
    assert found.unknown < 0.1
    assert found.items[0].name == kit.reasoner.find(trials[:1]).items[0].name


def test_the_same_words_mean_more_once_another_cord_has_cured_it_at_rest() -> None:
    """Dark at rest with the new cord, white at the press: now the press lights it."""
    kit, cord = FOIL, {"swapped": "left cord"}
    hit = {**cord, "press": "left", "on": "right lamé front", "saw": "left white"}
    own, new = kit.trial(**{**hit, "swapped": ()}), kit.trial(**hit)
    told = as_told([kit.trial(saw="left white"), own, kit.trial(**cord, saw="nothing"), new])
    assert told[1] != own, "with the old cord the lamp may have been lit all along"
    assert told[3] == new


def test_a_gauge_that_failed_is_tried_once_more_before_anything_is_taken_apart() -> None:
    bench = Situation(Mode.BENCH, "left weapon", ("weight", "box", "screwdriver", "shims"))
    fails = {"gauge": "left 500 g weight", "found": "fails"}
    trials = [fails]
    case = made_case(CaseTable.model_validate({"weapon": "foil", "trial": trials}))
    assert first(REASONING.at(bench).diagnose(case)).trial.gauge == ("left", "500 g weight")
    case = made_case(CaseTable.model_validate({"weapon": "foil", "trial": [fails, fails]}))
    assert first(REASONING.at(bench).diagnose(case)).trial.gauge is None


def test_nobody_tries_for_what_the_model_does_not_know_while_something_known_is_likelier() -> None:
    """A lamp that goes out with the weapon unplugged: the weapon is exchanged, though an unknown cause is not ruled out."""
    case = after("épée", "My lamp is on all the time", {"unplugged": ["left weapon plug"], "saw": ["nothing"]})
    shares = {aim.name: share for aim, share in case.decision.aims}
    assert 0.01 < shares[UNKNOWN] < max(shares.values())
    assert first(case).trial.swapped == ("left weapon",)


def test_what_a_trial_loses_besides_is_lost_only_where_it_acts_on_the_wrong_group() -> None:
    """By hand: 3 s, and (20 s + 7 s) in the quarter of the cases in which it is the other group."""
    tables = (np.array([[1.0, 0.0], [0.0, 1.0]], dtype=np.float32),)
    model = DecisionModel(
        tables, np.array([3.0]), np.array([0, 1]), np.array([20.0, 30.0]), 100.0, np.array([0]), np.array([7.0])
    )
    shares = np.array([0.75, 0.25])
    assert model.priced(shares, [0]).tolist() == pytest.approx([3 + 0.25 * 27])
    free = replace(model, lost=None)
    assert free.priced(shares, [0]).tolist() == pytest.approx([3 + 0.25 * 20])


def test_a_clip_that_was_seen_off_is_put_on_not_exchanged() -> None:
    """The eye has found it, and clipping it on takes seconds; the cord is exchanged where that does not help."""
    off: dict[str, object] = {"examine": ["right mask cord clip at the bib", "right mask cord clip at the lamé"], "found": "off"}
    seen = after("sabre", "Cuts to the mask give no light", off)
    assert seen.decision.enough
    assert [act.repair for act in seen.ending.acts] == ["right mask cord: clip it on"]


def test_what_was_exchanged_on_the_way_and_may_be_bad_stays_out() -> None:
    """White with either cord, and gone only with another foil as well: both stay out until the bench has tried them.

    Common practice, no source. With the old cord bridged at the foil it was white, with the new one it was dark.
    """
    line: dict[str, object] = {"unplugged": ["left weapon plug"], "bridged": ["left weapon plug B-C"]}
    both = ["left cord", "left weapon"]
    steps: list[dict[str, object]] = [
        {**line, "saw": ["left white"]},
        {"swapped": "left cord", "saw": ["left white"]},
        {**line, "swapped": "left cord", "saw": ["nothing"]},
        {"swapped": both, "saw": ["nothing"]},
    ]
    ending = after("foil", ON, *steps).ending
    assert [act.item for act in ending.acts] == both
    alone = after("foil", ON, {**line, "saw": ["nothing"]}, {"swapped": "left weapon", "saw": ["nothing"]}).ending
    assert [act.item for act in alone.acts] == ["left weapon"]
    assert ending.chance > 0.9


def test_nothing_wrong_is_said_once_the_fencer_has_fenced_on() -> None:
    """White once in the bout, and neither tug nor beat nor bend brings it back: fence on, watched, and then it is said."""
    tugged: dict[str, object] = {"move": ["tug left cord weapon plug", "tug left cord reel plug"], "saw": ["nothing"]}
    beaten: dict[str, object] = {"move": ["beat left weapon blade"], "saw": ["nothing"]}
    bent: dict[str, object] = {"move": ["bend left weapon blade", "beat left weapon blade"], "saw": ["nothing"]}
    said = "It goes white, and I never hit anything"
    found = after("foil", said, tugged, beaten, bent)
    assert not found.decision.enough, "a third of such complaints are of a fault, so nobody says so yet"
    assert found.advice[0].idea.say == "have the left fencer fence on, hitting nothing"
    found = after("foil", said, tugged, beaten, bent, {"move": ["fence left"], "saw": ["nothing"]})
    assert found.decision.enough
    assert found.ending.acts[0].kind is Kind.NOTHING_WRONG


def test_two_failures_that_are_both_there_are_no_doubt_between_two() -> None:
    """Nothing lights at the left although the cord's own pins are bridged, and the right one's hit lights the orange lamp alone.

    One failure cannot do both. No trial tells the two apart, so the item that is suspected most is exchanged at once; then the
    other (de Kleer & Williams 1987 on multiple faults: conflicts that no single fault explains).
    """
    orange = ["left nothing", "right no coloured", "right orange"]
    told: list[dict[str, object]] = [
        {"press": "left", "saw": orange},
        {"bridged": ["left weapon plug A-B"], "saw": orange},
        {"press": "right", "saw": orange},
    ]
    found = after("épée", "I hit and nothing lit", *told)
    assert found.finding.belief.two > 0.7
    assert found.advice[0].idea.trial.swapped == ("right weapon",)
    seen = ["left nothing", "right coloured", "right no orange"]
    found = after("épée", "I hit and nothing lit", *told, {"press": "right", "swapped": "right weapon", "saw": seen})
    assert found.decision.aims[0][0].name == "left cord"
    assert [act.item for act in found.ending.acts] == ["left cord", "right weapon"]


def test_on_the_bench_a_plug_is_in_nothing() -> None:
    """Line B of a cord that lies there open: its end is suspected, not that it was not pushed home."""
    ends = ["left cord B pin of the weapon plug", "left cord B pin of the reel plug"]
    read: dict[str, object] = {"meter": ends, "reads": "open"}
    case = made_case(CaseTable.model_validate({"weapon": "foil", "trial": [read]}))
    found = REASONING.at(Situation(Mode.BENCH, "left cord", ("meter", "screwdriver"))).diagnose(case)
    home = [suspect for suspect in found.finding.suspects if suspect.failure.mode == "not pushed home"]
    assert sum(suspect.probability for suspect in home) < 0.01
    assert not any("left cord C pin" in place for place in found.advice[0].idea.trial.meter or ())


@pytest.mark.parametrize("tools", [("spare",), ()])
def test_an_exchange_is_known_by_its_sentence_without_reasoning(tools: tuple[str, ...]) -> None:
    """So that the answer to it is kept at once, whatever is being reasoned about."""
    made = after("foil", "It goes white, and I never hit anything", place=Situation(Mode.PISTE, tools=tools)).decision.made_up
    assert made
    for idea in made:
        assert REASONING.idea(REASONING.setup("foil"), idea.say) == idea
    assert REASONING.idea(REASONING.setup("foil"), made[0].say + " twice") is None


def test_a_jacket_is_not_changed_while_another_spot_tells_as_cheaply_where_the_fault_is() -> None:
    """The clip is sound and lights, the front is white twice: another part of the jacket is tried before it is taken off."""
    front: dict[str, object] = {"press": "left", "on": "right lamé front", "saw": ["left white", "right nothing"]}
    clip: dict[str, object] = {**front, "on": "right cord clip", "saw": ["left coloured", "left no yellow", "right nothing"]}
    clipped, setting = ["right cord clip bite", "right cord A wire at the clip"], ["apparatus weapon setting"]
    looks: list[dict[str, object]] = [{"examine": parts, "found": ["fine"]} for parts in (clipped, setting)]
    trial = first(after("foil", WHITE, front, *looks, clip, front, place=Situation(Mode.PISTE, tools=("spare",)))).trial
    assert not trial.swapped
    assert trial.arrangement.press == "left"


@pytest.mark.parametrize("weapon", ["foil", "épée", "sabre"])
def test_what_no_failure_alone_can_show_is_mostly_told_of_sound_kit(weapon: str) -> None:
    """By the circuit, no failure lights a colour on what does not conduct, nor a sabre's lamp without a touch."""
    own, found = strip(weapon), []
    for complaint in load_complaints(own.setup, "left"):
        table = complaint.table.model_dump(exclude_defaults=True)
        told = made_case(CaseTable.model_validate({"weapon": weapon, "complaint": complaint.say, "trial": [table]})).trials[0]
        looks = own.reasoner.trial_likelihood.looks(told)
        assert looks is not None
        known = [chance[UNKNOWN_AT + 1 :].max() for chance in looks[:2]]
        if max(known) < 0.01:
            found.append(complaint.say)
            assert told.hearsay > 0.5, complaint.say
    assert found == {"foil": [GRAZED], "sabre": ["My lamp lights by itself"]}.get(weapon, [])


def test_whose_colour_lit_on_nothing_valid_has_nothing_wrong_once_hits_rest_and_fencing_on_are_sound() -> None:
    """It took nineteen trials, with something unknown in front. A master makes five at most (the rehearsals held back)."""
    hit: dict[str, object] = {"press": "left", "on": "right lamé front", "saw": ["left coloured"]}
    other: dict[str, object] = {"press": "right", "on": "left lamé front", "saw": ["right coloured"]}
    assert after("foil", GRAZED).decision.aims[0][0].name == "nothing wrong"
    fenced: dict[str, object] = {"move": ["fence left"], "saw": ["nothing"]}
    ended = after("foil", GRAZED, other, hit, {"saw": ["nothing"]}, fenced)
    assert ended.decision.enough
    assert [act.kind for act in ended.ending.acts] == [Kind.NOTHING_WRONG]


def test_of_hits_that_cost_the_same_the_fencer_who_complains_makes_his() -> None:
    """The left orange lamp flickered while the left one fenced: the right one need not hit. Common practice, no source."""
    told = {"move": ["fence left"], "saw": ["left orange flickers"]}
    case = made_case(CaseTable.model_validate({"weapon": "épée", "trial": [told]}))
    assert REASONING.diagnose(case).advice[0].idea.trial.arrangement.press == "left"
