"""A plug that does not sit home: what it cuts, who notices, and when it is looked at. Common practice, no source."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from foible.apparatus import TERMINALS, Lamp, lamp_chances, load_profile
from foible.circuit import Shape, conductances_of
from foible.diagnosis import Kind, StagedFault
from foible.diagnosis.shown.effects import edits, failed_network
from foible.errors import ProblemsError
from foible.kit import load_setup
from foible.practice import Attempt, Deed, Step, staged
from foible.situation import Mode, Situation
from foible.trials import CaseTable, arranged, complaint_named, load_complaints, made_case
from strip import strip
from usual import REASONING

if TYPE_CHECKING:
    from pathlib import Path

    from foible.kit import Setup

pytestmark = pytest.mark.once

ON = "My white lamp is on all the time"
LOOSE: dict[str, object] = {"examine": ["left cord weapon plug seat", "left cord reel plug seat"], "found": "loose"}
SHORTED: dict[str, object] = {"unplugged": ["left weapon plug"], "bridged": ["left weapon plug B-C"]}


def white(setup: Setup, failed: str, done: dict[str, object]) -> float:
    """Return the chance of the left white lamp with a failure that is there all the time."""
    failure = setup.failures[failed]
    network = arranged(setup, strip(setup.weapon).trial(**done, saw="nothing").arrangement).network(setup.network)
    shape = Shape.of(network := failed_network(network, edits(setup, failure, float("inf"))), TERMINALS)
    lamps = lamp_chances(load_profile(setup.profile), shape, shape.conductances(conductances_of(network)))[0]
    return float(lamps[0, Lamp.WHITE])


def told(weapon: str, *trials: dict[str, object]) -> CaseTable:
    first = complaint_named(load_complaints(strip(weapon).setup, "left"), ON).table.model_dump(exclude_defaults=True)
    return CaseTable.model_validate({"weapon": weapon, "complaint": ON, "trial": [first, *trials]})


@pytest.mark.parametrize("weapon", ["foil", "sabre"])
def test_a_plug_that_is_not_home_cuts_nothing_once_it_is_drawn_and_its_pins_are_held_on_metal(weapon: str) -> None:
    """The socket that it does not sit in has no part in it, while a squeezed pin or a broken wire of the cord has."""
    setup = strip(weapon).setup
    seat = "left cord weapon plug seat: not pushed home"
    assert white(setup, seat, {}) > 0.99
    assert white(setup, seat, SHORTED) < 0.01
    assert white(setup, "left cord B wire at the weapon plug: broken where it leaves the plug", SHORTED) > 0.99
    assert white(setup, "left cord reel plug seat: not pushed home", SHORTED) > 0.99


def test_a_plug_is_looked_at_before_it_is_drawn_as_nobody_sees_afterwards_how_it_sat() -> None:
    """A sabre has little else that makes white; of a foil so much that its plug is drawn at once."""
    first = REASONING.diagnose(made_case(told("sabre"))).advice[0].idea.trial
    assert list(first.examine) == LOOSE["examine"]
    then = REASONING.diagnose(made_case(told("sabre", {**LOOSE, "found": "fine"}))).advice[0].idea.trial
    assert then.arrangement.bridged
    assert REASONING.diagnose(made_case(told("foil"))).advice[0].idea.trial.arrangement.bridged


def test_whoever_draws_a_plug_would_have_noticed_that_it_was_not_home() -> None:
    """White goes out with the pins held on the guard, and nobody remarks on the plug: rather the weapon."""
    kit = strip("foil")
    seat = kit.reasoner.trial_likelihood.presence.runs["left cord weapon plug seat"]
    rest, short = kit.trial(saw="left white"), kit.trial(**SHORTED, saw="nothing")
    before, after = (kit.reasoner.find(trials).belief.probability[seat].sum() for trials in ([rest], [rest, short]))
    assert after < before


@pytest.mark.parametrize("weapon", ["foil", "sabre"])
def test_a_plug_seen_loose_is_pushed_home_before_its_cord_is_exchanged(weapon: str) -> None:
    """What was seen takes five seconds to put right; the exchange is for when that does not help."""
    acts = REASONING.diagnose(made_case(told(weapon, LOOSE))).ending.acts
    assert [(act.kind, act.repair) for act in acts] == [(Kind.MEND, "left cord: push the plug home")]


def test_a_reading_that_jumps_while_the_clip_is_tugged_is_a_fault_at_the_clip() -> None:
    """4.2 Ω from clip to pin, 0.6 Ω to open as it is tugged. Cause and sign: examples/published-more/cord-cold-solder-at-clip."""
    ends = ["left cord clip", "left cord A pin of the reel plug"]
    rest: dict[str, object] = {"meter": ends, "reads": "4.2"}

    def at_the_clip(*more: dict[str, object]) -> float:
        case = made_case(CaseTable.model_validate({"weapon": "sabre", "trial": [rest, *more]}))
        found = REASONING.at(Situation(Mode.BENCH, "left cord", ("meter", "screwdriver"))).diagnose(case)
        return sum(share for aim, share in found.decision.aims if aim.name == "left cord: resolder the clip")

    jumps: dict[str, object] = {"meter": ends, "move": ["tug left cord clip"], "reads": "0.6 to open"}
    still: dict[str, object] = {"meter": ends, "move": ["tug left cord reel plug"], "reads": "4.2"}
    assert at_the_clip(jumps) > 2 * at_the_clip(still)
    assert at_the_clip(jumps, jumps) > 0.75


def test_a_weapon_that_fails_a_gauge_twice_fails_it() -> None:
    """The second failing leaves hardly anything but what the gauge is for: all else at most a third as likely (gauge: m.11.4)."""
    gauge: dict[str, object] = {"gauge": "left 1 mm travel gauge", "found": "fails"}

    def others(*trials: dict[str, object]) -> float:
        case = made_case(CaseTable.model_validate({"weapon": "foil", "trial": list(trials)}))
        found = REASONING.at(Situation(Mode.BENCH, "left weapon", ("shims", "meter", "screwdriver"))).diagnose(case)
        return 1 - next(share for aim, share in found.decision.aims if aim.name == "left weapon: match point and barrel")

    assert others(gauge, gauge) < others(gauge) / 3
    case = made_case(CaseTable.model_validate({"weapon": "foil", "trial": [gauge, gauge]}))
    found = REASONING.at(Situation(Mode.BENCH, "left weapon", ("shims", "meter", "screwdriver"))).diagnose(case)
    assert found.decision.enough, "a meter says nothing about how far a point travels"


def test_what_only_the_fencer_tells_of_is_hit_by_oneself_before_nothing_is_said_to_be_wrong() -> None:
    """A colour on nothing valid: the point on nothing first, by the one who complains."""
    grazed = "I hit nothing valid and my colour lit"
    table = complaint_named(load_complaints(strip("foil").setup, "left"), grazed).table.model_dump(exclude_defaults=True)
    told_of: dict[str, object] = {"press": "left", "saw": ["left white"]}
    asked = []
    for trials in ([table], [table, told_of]):
        case = made_case(CaseTable.model_validate({"weapon": "foil", "complaint": grazed, "trial": trials}))
        asked.append(REASONING.diagnose(case).advice[0].idea.trial.arrangement)
    assert (asked[0].press, asked[0].on) == ("left", None)
    assert (asked[1].press, asked[1].on) != ("left", None)
    assert asked[1].press != "right", "the other fencer hits only where that tells more than it costs"


def test_no_test_box_is_asked_of_what_was_measured() -> None:
    """Its lamp lights through 9 Ω as through 1 Ω, the point pressed; without a meter at hand it is asked all the same."""
    read: dict[str, object] = {
        "meter": ["left weapon A contact of the socket", "left weapon B contact of the socket"],
        "press": "left",
        "reads": "9.0",
    }
    case = made_case(CaseTable.model_validate({"weapon": "épée", "trial": [read]}))
    asked = {}
    for tools in (("box", "meter", "screwdriver"), ("box", "screwdriver")):
        found = REASONING.at(Situation(Mode.BENCH, "left weapon", tools)).diagnose(case)
        boxed = [advice.idea.trial for advice in found.advice if advice.idea.trial.box]
        asked[tools] = any(trial.arrangement.press for trial in boxed)
    assert list(asked.values()) == [False, True]


def test_a_lead_seen_off_is_put_on_before_a_doubtful_second_item_is_named() -> None:
    """The lead of the piste lies there, and one of the right fencer's things is bad as well: which, the next hit tells."""
    coloured: dict[str, object] = {"press": "left", "saw": "left coloured"}
    trials: list[dict[str, object]] = [
        {**coloured, "on": "right weapon guard", "times": 3},
        {**coloured, "on": "piste"},
        {"examine": "left weapon point face", "found": "fine"},
        {"press": "right", "on": "piste", "saw": "right coloured"},
        {"examine": "piste earth bond", "found": "off"},
    ]
    found = REASONING.diagnose(made_case(CaseTable.model_validate({"weapon": "épée", "trial": trials})))
    assert found.finding.belief.two > 0.5
    assert [(act.kind, act.item) for act in found.ending.acts] == [(Kind.MEND, "piste")]


def test_whoever_practises_notices_mostly_that_a_plug_was_not_home_as_he_draws_it() -> None:
    """Nine times in ten; of another fault nothing is noticed, and what was noticed stands beside the lamps."""
    setup, ideas = strip("sabre").setup, REASONING.ideas(strip("sabre").setup)
    drawn = next(place for place, idea in enumerate(ideas) if idea.table.bridged and "left weapon plug" in idea.table.unplugged)
    told = {}
    wire = "left cord B wire at the weapon plug: broken where it leaves the plug"
    for failed in ("left cord weapon plug seat: not pushed home", wire):
        hidden = [staged(setup, [StagedFault(setup.failures[failed], float("inf"))], seed) for seed in range(60)]
        told[failed] = [Attempt(each, ideas, (Step(Deed.TRIAL, drawn),)).done[0] for each in hidden]
    home, broken = told.values()
    noticed = [done for done in home if done.table and done.table.found]
    assert 48 <= len(noticed) <= 59
    assert all(done.table and done.table.saw and "the left cord weapon plug seat was" in done.say for done in noticed)
    assert not any(done.table and done.table.found for done in broken)


def test_a_reading_is_the_same_trial_whichever_lead_is_where_and_is_proved_by_reading_it_again() -> None:
    """3.4 Ω from the weapon's end to the reel's; the pins set, it is read once more, on the bench, and that proves it."""
    ends = ["right cord B pin of the weapon plug", "right cord B pin of the reel plug"]
    bench = REASONING.at(Situation(Mode.BENCH, "right cord", ("meter", "screwdriver")))
    read: dict[str, object] = {"meter": ends, "reads": "3.4"}
    done: dict[str, object] = {"mended": ["right cord: set the plug pins"]}
    asked = bench.diagnose(made_case(CaseTable.model_validate({"weapon": "épée", "trial": [read, done]}))).advice[0]
    assert asked.proves
    assert asked.idea.table.meter is not None
    assert {*asked.idea.table.meter} == {*ends}
    assert not asked.idea.say.startswith("back on the strip")
    well: dict[str, object] = {**done, "meter": ends[::-1], "reads": "0.7"}
    proved = bench.diagnose(made_case(CaseTable.model_validate({"weapon": "épée", "trial": [read, done, well]})))
    assert proved.decision.proved


@pytest.mark.parametrize("weapon", ["foil", "sabre"])
def test_a_plug_said_to_be_loose_is_pushed_home_whenever_it_is_said(weapon: str) -> None:
    """Looked at before it is drawn, after it, or as it is drawn: nobody then kept silent about it."""
    short: dict[str, object] = {**SHORTED, "saw": ["nothing"]}
    look: dict[str, object] = {"examine": ["left cord weapon plug seat"], "found": "loose"}
    named = []
    for trials in ([look, short], [short, look], [{**short, **look}]):
        aims = REASONING.diagnose(made_case(told(weapon, *trials))).decision.aims
        named.append((aims[0][0].name, round(aims[0][1], 3)))
    assert {name for name, _ in named} == {"left cord: push the plug home"}
    assert len({*named}) == 1


def test_nobody_is_silent_twice_about_the_same_plug() -> None:
    """With the plug out, one trial more says nothing more of how it sat."""
    kit = strip("foil")
    seat = kit.reasoner.trial_likelihood.presence.runs["left cord weapon plug seat"]
    rest, short = kit.trial(saw="left white"), kit.trial(**SHORTED, saw="nothing")
    tug = kit.trial(**SHORTED, move="tug left cord reel plug", saw="nothing")
    once, twice = (kit.reasoner.find(trials).belief.probability[seat].sum() for trials in ([rest, short], [rest, short, tug]))
    assert twice > once / 3


def test_a_hit_that_was_told_of_is_made_once_even_with_something_exchanged() -> None:
    """It lit white with another foil, as it should: the same hit is not asked for again."""
    grazed = "I hit nothing valid and my colour lit"
    table = complaint_named(load_complaints(strip("foil").setup, "left"), grazed).table.model_dump(exclude_defaults=True)
    hit: dict[str, object] = {"press": "left", "saw": ["left white"], "swapped": ["left weapon"]}
    case = made_case(CaseTable.model_validate({"weapon": "foil", "complaint": grazed, "trial": [table, hit]}))
    asked = REASONING.diagnose(case).advice[0].idea.trial.arrangement
    assert (asked.press, asked.on) != ("left", None)


def test_a_leak_does_not_let_go_when_it_is_worked() -> None:
    """20 Ω across two lines reads 20 Ω whatever is tugged; only what carries a line can open."""
    reasoner = strip("sabre").reasoner
    hypotheses = reasoner.hypotheses
    across = [not hypotheses.failures[f].raises for f in hypotheses.failure[2:].tolist()]
    assert not hypotheses.lets_go[2:][across].any()
    assert hypotheses.lets_go[2:].any()


def added(folder: Path, part: str, what: str) -> Setup:
    """Return the foil kit with one more failure of a part, which does what a line of its table says."""
    text = f'[[failure]]\npart = "{part}"\nmode = "sits badly"\n{what}\nseverity = "parted"\nrate = 1\nsource = "judgement"\n'
    (folder / "failures").mkdir()
    (folder / "failures" / "ours.toml").write_text(text, encoding="utf-8")
    return load_setup("foil", overlays=[folder])


def test_a_failure_may_cut_a_line_of_a_connection_of_its_side_or_of_both(tmp_path: Path) -> None:
    """Invented at the Lanternfield club: a lead of the piste that sits badly, and a plug of which nothing is to be seen."""
    (tmp_path / "both").mkdir()
    lead = next(line for line in strip("foil").setup.connections["piste lead"].pins)
    piste = added(tmp_path / "both", "piste earth bond", f'raise = ["piste lead {lead}"]')
    assert piste.failures["piste earth bond: sits badly"].raises == (f"piste lead {lead}",)
    (tmp_path / "one").mkdir()
    plug = added(tmp_path / "one", "cord weapon plug seat", 'raise = ["weapon plug B"]')
    failure = plug.failures["left cord weapon plug seat: sits badly"]
    assert failure.raises == ("left weapon plug B",)
    hidden = staged(plug, [StagedFault(failure, float("inf"))], 1)
    drawn = strip("foil").trial(**SHORTED, saw="nothing")
    assert hidden.kit.noticed(drawn) is None, "there is nothing to be seen of it"


def test_what_is_set_for_good_is_a_part_and_no_line_of_a_connection(tmp_path: Path) -> None:
    """A drawn plug conducts nothing, whatever has failed."""
    with pytest.raises(ProblemsError, match="no part “weapon plug B” of this item conducts"):
        added(tmp_path, "cord weapon plug seat", 'set = { "weapon plug B" = 0.01 }')
