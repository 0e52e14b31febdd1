"""Failures that the kit lacked: each with how it shows, where it is looked for, how it is mended, and its clause.

What each does is a technician's memory (no page read), unless a source is named; clauses are of the FIE Material Rules (Book 3,
m.) and the FIE Technical Rules (Book 1, t.), August 2026.
"""

from __future__ import annotations

import math

import pytest

from foible.apparatus import chance_both_register, load_profile
from foible.diagnosis.shown.effects import edits
from foible.kit import SIDES, Failure, load_setup
from foible.trials import load_catalogue
from strip import strip

WEAPONS = ("foil", "épée", "sabre")
RARE = 12.0
"""A failure that nobody had missed is rare beside the commonest (clip off 60, own weapon on the lamé 100); judgement."""

LISTED = [
    ("foil", "apparatus floor cables at the apparatus: crossed: each fencer lights the other side", None),
    ("épée", "apparatus repeater lamps: dead or not connected, the apparatus itself lit", "m.59.1"),
    ("épée", "left weapon insulation of the wires behind the guard: bare, the wires touching each other", "m.5.2"),
    ("épée", "left weapon insulation of the wires in the groove: bare, the wires touching each other", "m.18.1"),
    ("épée", "left weapon contact block: chip of metal across its contacts", "m.5.5.b"),
    ("épée", "left weapon contact block: not home in the barrel", "m.19.4"),
    ("épée", "left weapon guard surface: paint or glue on it", "m.5.5.c"),
    ("épée", "left weapon blade surface: paint or glue on it", "t.94.1"),
    ("foil", "left weapon blade tape: too far forward or too thick, so that it holds the point", "m.13.1"),
    ("foil", "left weapon inner sleeve of the point: worn, so that a deep hit stays closed", "m.5.5.a"),
    ("foil", "left weapon grub screws: tarnished", "m.5.5.b"),
    ("foil", "left weapon contact cup: bridged by a lubricant that conducts", "m.5.5.b"),
    ("foil", "left weapon contact cup: oil or grease on it", "m.5.5.b"),
    ("épée", "left weapon contact spring to A: oil or grease on it", "m.5.5.b"),
    ("sabre", "left weapon insulation of outer guard, grip and pommel: worn or missing, meeting the sleeve", "t.99.2"),
    *((weapon, "left lamé front panel: cut off by a strip of broken threads", "m.28.5") for weapon in ("foil", "sabre")),
    *((weapon, "left cord weapon plug seat: the device that holds it is missing", "t.71") for weapon in WEAPONS),
    *((weapon, "left cord reel plug seat: the device that holds it is missing", "m.55.4") for weapon in WEAPONS),
    *((weapon, "left reel spring and drum: spring tired, or the cable jammed on the drum", "m.55.3") for weapon in WEAPONS),
    *((weapon, "left reel earth of the frame: wire off the frame", "m.55.2") for weapon in WEAPONS),
]


def failure_of(weapon: str, name: str) -> Failure:
    return load_setup(weapon).failures[name]


@pytest.mark.parametrize(("weapon", "name", "clause"), LISTED)
def test_a_failure_that_was_missing_is_seen_looked_for_and_mended(weapon: str, name: str, clause: str | None) -> None:
    setup = load_setup(weapon)
    failure = setup.failures[name]
    assert failure.signs
    assert 0 < failure.rate <= RARE
    assert any({failure.part, failure.item} & set(idea.trial.examine) for idea in load_catalogue(setup))
    assert failure.repair is not None
    repair = setup.repairs[failure.repair]
    if clause:
        assert clause in (repair.clause or "")


# --- what each does to the lamps --------------------------------------------------------------------------------------

CROSSED = "apparatus floor cables at the apparatus: crossed: each fencer lights the other side"


@pytest.mark.parametrize(
    ("weapon", "hit"),
    [
        ("foil", {"press": "left", "on": "right lamé front"}),
        ("épée", {"press": "left"}),
        ("sabre", {"cut": "left", "on": "right lamé front"}),
    ],
)
def test_with_floor_cables_crossed_each_fencer_lights_the_other_side(weapon: str, hit: dict[str, object]) -> None:
    there = strip(weapon)
    assert there.with_failure(CROSSED, 0.05, **hit) == {"right coloured"}
    assert there.with_failure(CROSSED, 0.05) == set()


@pytest.mark.parametrize("part", ["insulation of the wires behind the guard", "insulation of the wires in the groove"])
def test_two_epee_wires_that_touch_light_by_themselves(part: str) -> None:
    """B(a): the loop is closed by a pressed point; here it is closed without."""
    epee = strip("épée")
    name = f"left weapon {part}: bare, the wires touching each other"
    assert epee.with_failure(name, 0.05) == {"left coloured"}
    assert epee.with_failure("left weapon contact block: chip of metal across its contacts", 0.05) == {"left coloured"}


def test_paint_on_an_epee_guard_makes_hits_on_it_count() -> None:
    """t.94.1: own weapon with glue or paint on it; the opponent's hit there registers and is not annulled."""
    epee = strip("épée")
    hit: dict[str, object] = {"press": "right", "on": "left weapon guard"}
    assert "right coloured" in epee.with_failure("left weapon guard surface: paint or glue on it", math.inf, **hit)
    assert "right coloured" not in epee.lit(epee.arrangement(**hit))


@pytest.mark.parametrize(
    ("name", "ohms"),
    [
        ("left weapon blade tape: too far forward or too thick, so that it holds the point", 0.05),
        ("left weapon inner sleeve of the point: worn, so that a deep hit stays closed", 0.05),
        ("left weapon contact cup: bridged by a lubricant that conducts", 2),
    ],
)
def test_a_foil_whose_loop_cannot_open_gives_no_lamp(name: str, ohms: float) -> None:
    """A.1(a)1: a hit breaks the standing current. The sleeve: fencing.net thread 446, nothing on hard deep hits."""
    foil = strip("foil")
    assert foil.with_failure(name, ohms, press="left", on="right lamé front") == set()
    assert foil.with_failure(name, ohms) == set()


def test_a_conducting_lubricant_is_cleaned_out_and_not_rewired() -> None:
    assert failure_of("foil", "left weapon contact cup: bridged by a lubricant that conducts").repair == "clean the foil point"
    assert failure_of("foil", "left weapon contact cup: short inside the point").repair == "rewire the foil blade"


def test_bare_metal_at_the_pommel_that_meets_the_sleeve_lights_yellow() -> None:
    """C(a)5."""
    name = "left weapon insulation of outer guard, grip and pommel: worn or missing, meeting the sleeve"
    assert strip("sabre").with_failure(name, 0.05) == {"left yellow"}


def test_a_strip_of_broken_threads_kills_its_panel_and_is_bridged() -> None:
    """rec.sport.fencing FAQ 2.5.1: a small strip of broken fibres kills a large area, and patching the strip revives it all."""
    name = "right lamé front panel: cut off by a strip of broken threads"
    foil = strip("foil")
    for spot in ("front", "front, elsewhere"):
        assert foil.with_failure(name, press="left", on=f"right lamé {spot}") == {"left white"}
    assert foil.with_failure(name, press="left", on="right lamé back") == {"left coloured"}
    assert failure_of("foil", name).repair != failure_of("foil", "right lamé front panel: whole panel dead").repair


@pytest.mark.parametrize("weapon", WEAPONS)
def test_a_plug_that_nothing_holds_comes_and_goes(weapon: str) -> None:
    """m.5.3.c and m.55.4 ask for a device; without it the plug parts in the bout and not at rest."""
    for end in ("weapon plug", "reel plug"):
        failure = failure_of(weapon, f"left cord {end} seat: the device that holds it is missing")
        assert failure.intermittent == 1.0
        assert len(failure.raises) >= 2


@pytest.mark.parametrize("weapon", WEAPONS)
def test_spring_and_frame_of_a_reel_change_nothing_in_the_circuit(weapon: str) -> None:
    """They lead none of its current, so the eye and the hand find them and no lamp does; m.55.2 and m.55.3 name no ohms."""
    setup = load_setup(weapon)
    for side in SIDES:
        for failure in setup.failures.values():
            if failure.part in (f"{side} reel spring and drum", f"{side} reel earth of the frame"):
                made = edits(setup, failure, 1.0)
                assert (made.raised, made.held, made.joined) == ((), (), ())
                assert failure.signs


def test_a_clip_that_is_off_the_mask_now_and_then_still_conducts() -> None:
    """'Mask Clips', fencingforum.com thread 600, July 2003: it mostly still lights, through the bib on the lamé."""
    off = failure_of("sabre", "left mask cord clip at the bib: come off, or never put on")
    assert off.intermittent > failure_of("sabre", "left cord clip bite: come off, or never put on").intermittent


def test_an_older_sabre_apparatus_shuts_the_second_hit_out_sooner() -> None:
    """C(a)8: 170 ± 10 ms since September 2016, 120 ms before (notices of federations, 2016). One hit tells nothing of it."""
    today, older = (load_profile(name) for name in ("fie-2026-sabre", "before-2016-sabre"))
    sure = {"coloured": 1.0}
    assert chance_both_register(today.time("block"), sure, sure, 140) == 1
    assert chance_both_register(older.time("block"), sure, sure, 140) == 0
    assert chance_both_register(older.time("block"), sure, sure, 105) == 1
    assert today.gaps == older.gaps


# --- rates that were off by more than three times (memory; judgement) -----------------------------------------------------


@pytest.mark.parametrize(
    ("weapon", "name", "rate"),
    [
        ("foil", "left handling weapon on own lamé: guard or bare blade resting on own lamé", 100),
        ("foil", "left weapon socket insulation: sabre-type socket fitted", 0.3),
        ("foil", "left cord order of the lines at the reel plug: A and B exchanged", 0.3),
        ("foil", "left cord order of the lines at the weapon plug: B and C exchanged", 0.3),
        ("épée", "left cord order of the lines at the weapon plug: A and C exchanged", 0.3),
        ("sabre", "left cord reel plug A pin: squeezed, dirty or screw loose", 25),
        ("sabre", "left cord clip bite: come off, or never put on", 60),
    ],
)
def test_a_rate_is_what_a_technician_remembers(weapon: str, name: str, rate: float) -> None:
    """The rate of both sides together."""
    assert failure_of(weapon, name).rate * 2 == pytest.approx(rate)


def test_an_apparatus_on_the_wrong_weapon_is_a_clubs_mistake_and_not_that_of_a_one_weapon_event() -> None:
    """10 at a club, 0.2 at a one-weapon event."""
    for weapon in WEAPONS:
        wrong = [each for each in load_setup(weapon).failures.values() if each.part == "apparatus weapon setting"]
        assert sum(each.rate for each in wrong) == 10
        assert sum(each.rate * each.when["one-weapon event"] for each in wrong) == pytest.approx(0.2)


def test_lines_and_sockets_are_exchanged_by_whoever_just_mended_them() -> None:
    for weapon in WEAPONS:
        mixed = [each for each in load_setup(weapon).failures.values() if "exchanged" in each.mode or "type socket" in each.mode]
        assert mixed
        assert all(each.when["just remade"] >= 10 for each in mixed)


def test_what_is_done_wrong_in_making_or_oiling_shows_at_the_first_use_after_it() -> None:
    """A technician's memory, but for two: scraped in the barrel's hole (pages of a British kit maker), oil (a thread of 1995)."""
    for weapon, name, fact, least in (
        ("foil", "left cord order of the lines at the weapon plug: B and C exchanged", "just remade", 50),
        ("foil", "left weapon socket insulation: sabre-type socket fitted", "just remade", 50),
        ("foil", "left weapon wire at the point: insulation scraped on the barrel", "just remade", 5),
        ("épée", "left weapon A wire at the point: insulation scraped on the barrel", "just remade", 5),
        ("épée", "left weapon contact spring: crooked or not seated", "just remade", 3),
        ("foil", "left weapon contact cup: bridged by a lubricant that conducts", "just oiled", 20),
        ("foil", "left weapon contact cup: oil or grease on it", "just oiled", 20),
        ("épée", "left weapon contact spring to B: oil or grease on it", "just oiled", 20),
    ):
        assert failure_of(weapon, name).when[fact] >= least, name
