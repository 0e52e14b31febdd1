"""What an armourer knows and the reasoning must know as well: what gauge, meter and eye settle, and what a place can do.

Common practice, a technician's memory, no source, unless a clause is named.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from foible.diagnosis.belief.as_told import as_told
from foible.situation import Mode, Situation
from foible.trials import CaseTable, complaint_named, load_complaints, made_case
from usual import REASONING

if TYPE_CHECKING:
    from foible.services.verdict import Diagnosis

BENCH = Mode.BENCH
ROOMY = ("spare", "meter", "box", "weight", "shims", "screwdriver")
SHIM: dict[str, object] = {"gauge": "left 0.5 mm shim", "found": "fails"}
CLEANED = {"foil": "left weapon: clean the foil point", "épée": "left weapon: clean the épée point"}


def told(weapon: str, say: str) -> dict[str, object]:
    complaint = complaint_named(load_complaints(REASONING.setup(weapon), "left"), say)
    return complaint.table.model_dump(exclude_defaults=True)


def diagnosed(
    weapon: str, trials: list[dict[str, object]], *, mode: Mode = Mode.PISTE, item: str | None = None, facts: tuple[str, ...] = ()
) -> Diagnosis:
    table = CaseTable.model_validate({"weapon": weapon, "trial": trials, "facts": facts})
    return REASONING.at(Situation(mode, item, ROOMY)).diagnose(made_case(table, name="a case"))


def shares(diagnosis: Diagnosis) -> dict[str, float]:
    return {f"{suspect.part}: {suspect.failure.mode}": suspect.probability for suspect in diagnosis.finding.suspects}


def test_a_shim_that_fails_twice_and_is_as_thick_as_it_should_be_is_the_contact_spring() -> None:
    """Travel left to the point once the lamp lights: below 0.5 mm (FIE Material Rules, August 2026, m.19.4.a)."""
    thick: dict[str, object] = {"examine": "tools 0.5 mm shim", "found": "fine"}
    found = diagnosed("épée", [SHIM, SHIM, thick], mode=BENCH, item="left weapon")
    assert shares(found)["left weapon contact spring: too long"] > 0.85
    assert found.ending.acts[0].repair == "left weapon: set the contact spring"


@pytest.mark.parametrize(
    ("weapon", "gauge", "spring", "sticking"),
    [
        ("foil", "left 500 g weight", "left weapon pressure spring: weak", "left weapon point seat: point stuck in"),
        (
            "épée",
            "left 750 g weight",
            "left weapon return spring: squashed or tired",
            "left weapon barrel bore: dirty, so that the point sticks in",
        ),
    ],
)
def test_a_weight_that_is_not_lifted_twice_is_the_spring_or_a_point_that_sticks(
    weapon: str, gauge: str, spring: str, sticking: str
) -> None:
    fails: dict[str, object] = {"gauge": gauge, "found": "fails"}
    found = shares(diagnosed(weapon, [fails, fails], mode=BENCH, item="left weapon"))
    assert next(iter(found)) == spring
    assert found[spring] + found[sticking] > 0.95
    cleaned = diagnosed(weapon, [fails, fails, {**fails, "mended": CLEANED[weapon]}], mode=BENCH, item="left weapon")
    assert shares(cleaned)[spring] > 0.85


def test_worn_tape_explains_a_hit_that_lit_nothing() -> None:
    """The blade behind the point may have lain along the lamé (m.13.1 asks for insulation there)."""
    complaint = told("foil", "I hit and nothing lit at all")
    alone = list(shares(diagnosed("foil", [complaint])))
    assert alone.index("left weapon blade tape: missing or worn through") < 6
    seen = diagnosed("foil", [complaint, {"examine": "left weapon blade tape", "found": "worn"}])
    assert next(iter(shares(seen))) == "left weapon blade tape: missing or worn through"


@pytest.mark.parametrize(
    ("weapon", "item", "meter", "reads"),
    [
        ("foil", "left cord", ["left cord A pin of the reel plug", "left cord clip"], "2.5"),
        ("foil", "left lamé", ["left lamé front", "left lamé back"], "7.0"),
        ("sabre", "left mask", ["left mask mesh", "left mask bib"], "6.0"),
    ],
)
def test_a_reading_over_the_limit_is_the_item_and_not_the_meter(weapon: str, item: str, meter: list[str], reads: str) -> None:
    found = diagnosed(weapon, [{"meter": meter, "reads": reads}], mode=BENCH, item=item)
    assert found.finding.suspects[0].item == item
    assert shares(found)["tools meter: battery flat or leads broken"] < 0.05


def test_ten_good_hits_after_a_complaint_that_nobody_watched_are_nothing_wrong() -> None:
    hits: dict[str, object] = {"press": "left", "on": "right lamé front", "saw": "left coloured", "times": 10}
    found = diagnosed("foil", [told("foil", "I hit the lamé and it came up white"), hits])
    assert found.finding.sound > 0.8
    assert found.ending.acts[0].kind.value == "nothing wrong"


def test_a_hall_without_a_metal_piste_is_not_asked_for_one() -> None:
    complaint = [told("foil", "I hit the lamé and it came up white")]
    for facts, offered in (((), False), (("no metal piste",), False), (("metal piste",), True)):
        says = [advice.idea.say for advice in diagnosed("foil", complaint, facts=facts).advice]
        assert any("metal piste" in say for say in says) is offered


def test_an_item_is_exchanged_with_what_provoked_the_fault() -> None:
    beaten: dict[str, object] = {"move": "beat left weapon blade", "saw": "left white flickers"}
    offered = diagnosed("foil", [beaten, beaten]).candidates
    exchanges = [idea for idea in offered if idea.trial.swapped == ("left weapon",) and idea.trial.moves]
    assert [idea.trial.moves for idea in exchanges] == [("beat left weapon blade",)]


@pytest.mark.parametrize(
    ("weapon", "said"),
    [
        ("sabre", "My cuts give no light"),
        ("foil", "It goes white, and I never hit anything"),
        ("épée", "I hit and nothing lit"),
    ],
)
def test_a_broken_blade_goes_out_of_use(weapon: str, said: str) -> None:
    found = diagnosed(weapon, [told(weapon, said), {"examine": "left weapon blade", "found": "broken"}])
    assert [act.kind.value for act in found.ending.acts] == ["out of use"]


def test_a_sign_that_a_part_cannot_show_is_refused_with_those_it_can() -> None:
    with pytest.raises(Exception, match="fine, broken"):
        diagnosed("foil", [{"examine": "left weapon blade", "found": "green"}])


def first_advice(diagnosis: Diagnosis) -> dict[str, object]:
    return diagnosis.advice[0].idea.table.model_dump(exclude_defaults=True)


def test_a_lamp_that_is_on_all_the_time_is_before_everybody_s_eyes() -> None:
    """So it is not looked at again, and no weapon of the other side is suspected for a misreading of it."""
    found = diagnosed("épée", [told("épée", "My lamp is on all the time")])
    assert sum(share.probability for share in found.finding.items if share.name.startswith("right")) < 0.02
    assert first_advice(found) == {"unplugged": ("left weapon plug",)}


def test_whoever_names_the_mask_has_seen_other_cuts_light() -> None:
    say = "Cuts to the mask give no light"
    table = {"weapon": "sabre", "trial": [told("sabre", say)]}
    known, unknown = (
        REASONING.diagnose(made_case(CaseTable.model_validate({**table, "complaint": words}), name="a case"))
        for words in (say, "something about the mask")
    )

    def weapon(of: Diagnosis) -> float:
        return next(share.probability for share in of.finding.items if share.name == "left weapon")

    assert weapon(known) < weapon(unknown) / 2
    assert set(known.advice[0].idea.trial.examine) == {"right mask cord clip at the lamé", "right mask cord clip at the bib"}


def test_whoever_says_where_cuts_do_not_light_has_seen_others_light_time_after_time() -> None:
    """Some cuts are dark, those to the sleeve: it is the sleeve, and no cord that comes and goes. Common practice, no source."""
    say = "Some of my cuts give no light"
    sleeve: dict[str, object] = {"cut": "left", "on": "right lamé sword sleeve", "saw": ["left nothing"]}
    table = {"weapon": "sabre", "complaint": say, "trial": [sleeve]}
    found = REASONING.diagnose(made_case(CaseTable.model_validate(table), name="a case"))
    items = {share.name: share.probability for share in found.finding.items}
    assert items["right lamé"] > 0.5
    assert items["right cord"] < 0.15
    other, *_ = as_told(made_case(CaseTable.model_validate(table), name="a case").trials)
    same, *_ = as_told(made_case(CaseTable.model_validate({**table, "trial": [told("sabre", say)]}), name="a case").trials)
    assert (other.unsteady, other.times) == (False, 2), "lit elsewhere each time"
    assert same.times == 1, "where they light now and then, that is all that is said"


def test_a_gauge_that_fails_is_tried_once_more_and_not_a_third_time() -> None:
    once, twice = (diagnosed("épée", [SHIM] * times, mode=BENCH, item="left weapon") for times in (1, 2))
    assert "0.5 mm shim" in once.advice[0].idea.say
    assert not any(advice.idea.trial.gauge == ("left", "0.5 mm shim") for advice in twice.advice)
    passed = diagnosed("épée", [{**SHIM, "found": "passes"}], mode=BENCH, item="left weapon")
    assert not any(advice.idea.trial.gauge == ("left", "0.5 mm shim") for advice in passed.advice)


def test_nobody_says_nothing_wrong_before_something_was_moved() -> None:
    """An intermittent fault fails in the bout and passes the test."""
    lights: dict[str, object] = {"press": "left", "saw": "left coloured"}
    still = diagnosed("épée", [told("épée", "I hit and nothing lit"), lights, lights])
    assert not still.decision.enough
    assert still.advice[0].idea.trial.moves
    assert still.advice[0].idea.trial.arrangement.press == "left"
    trials, found = [told("épée", "I hit and nothing lit"), lights, lights], still
    for _ in range(8):
        if found.decision.enough:
            break
        trial = found.advice[0].idea.trial
        hit = trial.arrangement.press
        answer = {"found": "fine"} if trial.examine else {"saw": f"{hit} coloured" if hit else "nothing"}
        trials.append({**first_advice(found), **answer})
        found = diagnosed("épée", trials)
    assert found.decision.enough
    assert found.ending.acts[0].kind.value == "nothing wrong"


def test_what_comes_with_a_movement_is_not_there_at_rest() -> None:
    """A yellow lamp that flickers while a sabre fencer moves: a fault that stays, like a frayed clip wire, is hardly it."""
    moved: dict[str, object] = {"move": "fence left", "saw": "left yellow flickers"}
    alone = diagnosed("sabre", [moved])
    told_as_well = diagnosed("sabre", [{"saw": "left no yellow"}, moved])
    assert shares(alone) == pytest.approx(shares(told_as_well), abs=0.02)


def test_the_blade_is_looked_at_along_with_the_clip_on_the_way() -> None:
    """One look has to be made before anybody cuts, so it is the one that tells most in its time."""
    found = diagnosed("sabre", [told("sabre", "My cuts give no light")])
    assert {"left weapon blade", "right cord clip bite"} <= set(found.advice[0].idea.trial.examine)


def test_nothing_is_called_misread_where_it_came_out_alike_twice() -> None:
    """Floor cables crossed look like a slip of the tongue, once."""
    crossed: dict[str, object] = {"press": "left", "on": "right lamé front", "saw": "right coloured"}
    once, twice = (REASONING.verdict(diagnosed("foil", [crossed] * times), 3).doubts.misread for times in (1, 2))
    assert [number for number, _ in once] == [0]
    assert not twice


def test_the_meter_is_suspected_only_once_its_leads_were_held_together() -> None:
    """Rulebook limit of a lamé: 5 Ω (m.28.5); held together, the leads of a sound meter read a few tenths of an ohm."""
    read: dict[str, object] = {"meter": ["left lamé front", "left lamé back"], "reads": "7.0"}

    def meter(*found: str) -> float:
        looked: list[dict[str, object]] = [{"examine": "tools meter", "found": each} for each in found]
        finding = diagnosed("foil", [read, *looked], mode=BENCH, item="left lamé").finding
        return next(suspect.probability for suspect in finding.suspects if suspect.part == "tools meter")

    assert meter() < 0.02
    assert meter("fine") < meter() / 5
    assert meter("reads wrong") > 0.5


@pytest.mark.parametrize(
    ("weapon", "item", "trial"),
    [
        ("foil", "left weapon", {"meter": ["left weapon screw of the socket", "left weapon point"], "reads": "3.5"}),
        ("foil", "left cord", {"box": "left cord", "bridged": "left weapon plug B-C", "lights": "B-C flickers"}),
        ("épée", "right weapon", {"gauge": "right 750 g weight", "found": "fails"}),
        ("épée", "left reel", {"examine": "left reel", "found": ["crooked", "missing"]}),
    ],
)
def test_what_was_tried_by_itself_is_what_is_in_question(weapon: str, item: str, trial: dict[str, object]) -> None:
    """Who measures a foil, boxes a cord, weighs an épée or opens a reel asks about that one: common practice, no source."""
    found = diagnosed(weapon, [trial])
    assert found.alone == item
    assert {suspect.item for suspect in found.finding.suspects} <= {item, "tools"}
    assert found.finding.items[0].name == item


@pytest.mark.parametrize(
    "trials",
    [
        [{"examine": "left cord clip bite", "found": "fine"}],
        [{"meter": ["left cord A pin of the reel plug", "left cord clip"], "reads": "0.4"}, {"saw": "left white"}],
        [{"meter": ["left cord A pin of the reel plug", "left reel A contact of the fencer's socket"], "reads": "open"}],
        [{"gauge": "left 500 g weight", "found": "passes"}, {"examine": "left cord", "found": "loose"}],
    ],
)
def test_a_look_that_finds_nothing_lamps_of_a_strip_and_two_items_leave_everything_in_question(
    trials: list[dict[str, object]],
) -> None:
    found = diagnosed("foil", trials)
    assert found.alone is None
    assert len({suspect.item for suspect in found.finding.suspects}) > 10


def test_a_meter_that_shows_a_figure_speaks_of_a_bad_joint_and_open_of_a_broken_wire() -> None:
    """Armoury Tip 3, Blackheath FC: over 10 Ω, up to 100 and more, is a bad joint of the foil; a wire that is broken reads open.

    That who finds a line open says “open” is common practice, no source.
    """
    joints = ("point seat", "grub screws", "barrel thread", "grip nut", "socket nut", "tang in the guard", "contact cup", "crimp")
    loop = ["left weapon screw of the socket", "left weapon frame of the socket"]
    first = {
        reads: diagnosed("foil", [{"meter": loop, "reads": reads}]).finding.suspects[:3] for reads in ("over 10", "100", "open")
    }
    for reads in ("over 10", "100"):
        assert all(suspect.part.endswith(joints) for suspect in first[reads])
    assert any("wire" in suspect.part for suspect in first["open"])


def test_light_hits_that_light_and_hard_ones_that_do_not_are_the_sleeve_inside_the_point() -> None:
    """fencing.net forum thread 446: fine at every test and on light touches, nothing on hits that bury the point."""
    light: dict[str, object] = {"press": "left", "on": "right lamé front", "saw": "left coloured", "times": 2}
    hard = {**light, "move": "bury left weapon point", "saw": "left nothing"}
    found = diagnosed("foil", [light, hard])
    assert found.finding.suspects[0].part == "left weapon inner sleeve of the point"
    unsaid = diagnosed("foil", [light, {**hard, "move": ()}])
    assert any(idea.trial.moves == ("bury left weapon point",) for idea in unsaid.candidates)
    assert unsaid.finding.suspects[0].probability < found.finding.suspects[0].probability / 3


def test_an_epee_that_lights_only_when_it_is_driven_home_is_dirty_or_has_a_short_contact_spring() -> None:
    """Common practice, no source."""
    light: dict[str, object] = {"press": "left", "saw": "left nothing", "times": 2}
    hard: dict[str, object] = {"press": "left", "move": "bury left weapon point", "saw": "left coloured", "times": 2}
    found = diagnosed("épée", [light, hard])
    assert {suspect.part for suspect in found.finding.suspects[:3]} == {
        "left weapon contact spring",
        "left weapon contact spring to A",
        "left weapon contact spring to B",
    }


@pytest.mark.parametrize(
    ("weapon", "fact", "trial", "failures"),
    [
        (  # Foil repair: blade re-wire, pages of a British kit maker: the wire is scraped in the hole of the barrel base
            "foil",
            "just remade",
            {"press": "left", "meter": ["left weapon screw of the socket", "left weapon blade"], "reads": "under 10"},
            {"left weapon wire at the point: insulation scraped on the barrel"},
        ),
        (  # rec.sport.fencing, November 1995: an oil film keeps the contacts apart
            "épée",
            "just oiled",
            {"press": "left", "saw": "left coloured sometimes"},
            {"left weapon contact spring to A: oil or grease on it", "left weapon contact spring to B: oil or grease on it"},
        ),
        (  # common practice, no source
            "foil",
            "just remade",
            {"press": "left", "on": "right lamé front", "saw": "left white"},
            {
                "left cord order of the lines at the reel plug: B and C exchanged",
                "left cord order of the lines at the weapon plug: B and C exchanged",
            },
        ),
    ],
)
def test_what_was_done_to_the_kit_before_is_thought_of_first(
    weapon: str, fact: str, trial: dict[str, object], failures: set[str]
) -> None:
    before, after = (list(shares(diagnosed(weapon, [trial], facts=facts))) for facts in ((), (fact,)))
    assert failures <= set(after[:4])
    assert not failures & set(before[:4])


def test_hits_on_an_epee_guard_that_count_now_and_then_are_dirt_and_all_of_them_an_earth_line() -> None:
    """Rust and dirt lie in patches, and each hit finds another; a line is off for all of them. Common practice, no source."""
    guard: dict[str, object] = {"press": "left", "on": "right weapon guard"}
    now_and_then = diagnosed("épée", [{**guard, "saw": "left coloured sometimes"}])
    assert now_and_then.finding.suspects[0].part == "right weapon guard surface"
    always = diagnosed("épée", [{**guard, "saw": "left coloured", "times": 4}])
    assert always.finding.suspects[0].part != "right weapon guard surface"
    assert always.finding.items[0].name == "right cord"


def test_a_bayonet_plug_that_is_pressed_to_put_white_out_is_its_spring_plate_and_not_its_seat() -> None:
    """Turned home, such a plug is locked: common practice, no source."""
    moving: dict[str, object] = {"move": "fence left", "saw": "left white flickers"}
    held: dict[str, object] = {"move": ["fence left", "hold left cord weapon plug"], "saw": "left no white"}
    keys = {"weapon": "foil", "left": {"socket": "bayonet"}, "trial": [moving, held]}
    found = REASONING.diagnose(made_case(CaseTable.model_validate(keys), name="a case")).finding
    parts = [suspect.part for suspect in found.suspects]
    assert parts.index("left weapon socket spring plate") < parts.index("left cord weapon plug seat")


def test_white_or_coloured_by_luck_that_changes_with_the_wire_at_the_clip_may_be_a_cold_joint() -> None:
    """How to Maintain Your Fencing Gear: The Foil, club blog swordplayla.com, 2018: such a joint carries by luck."""
    luck: dict[str, object] = {
        "press": "left",
        "on": "right lamé front",
        "saw": ["left white sometimes", "left coloured sometimes"],
    }
    parts = [suspect.part for suspect in diagnosed("foil", [luck, {**luck, "move": "tug right cord clip"}]).finding.suspects]
    assert parts.index("right cord clip solder") < parts.index("right cord A wire at the reel plug")
    assert parts[0].startswith("right cord clip")
