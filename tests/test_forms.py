"""Lamps that were touched, read as a report: what lit, what stayed dark, what nobody watched."""

from __future__ import annotations

import pytest

from foible.errors import InputError
from foible.kit import weapon_at
from foible.web.forms import box_report, lamp_report, own_trial


@pytest.mark.parametrize(
    ("weapon", "form", "report"),
    [
        ("foil", {}, ("left nothing", "right nothing")),
        ("foil", {"left_white": "steady"}, ("left white", "left no yellow", "right nothing")),
        ("foil", {"left_white": "steady", "right_watched": "no"}, ("left white", "left no yellow")),
        (
            "foil",
            {"left_yellow": "flickers", "right_watched": "no"},
            ("left yellow flickers", "left no white", "left no coloured"),
        ),
        ("foil", {"right_coloured": "sometimes", "left_watched": "no"}, ("right coloured sometimes", "right no yellow")),
        (
            "sabre",
            {"left_white": "before", "right_watched": "no"},
            ("left white all along", "left no coloured", "left no yellow"),
        ),
        ("épée", {"left_coloured": "steady", "right_watched": "no"}, ("left coloured",)),
        ("épée", {"left_orange": "out"}, ("left nothing", "left no orange", "right nothing")),
        ("épée", {"left_coloured": "steady", "there": "yes", "right_watched": "no"}, ("left coloured", "left no orange")),
        ("épée", {"there": "yes"}, ("left nothing", "left no orange", "right nothing", "right no orange")),
        ("épée", {"left_orange": "steady", "there": "yes", "right_watched": "no"}, ("left orange", "left no coloured")),
        ("épée", {"left_orange": "steady", "right_watched": "no"}, ("left orange", "left no coloured")),
    ],
)
def test_touched_lamps_say_what_lit_and_what_stayed_dark(weapon: str, form: dict[str, str], report: tuple[str, ...]) -> None:
    """At épée the lamp for an earthed line is optional (Annex B, B(e)4): its dark speaks where it is known to be there."""
    assert lamp_report(form, weapon_at(weapon)) == report


def test_somebody_has_to_watch() -> None:
    with pytest.raises(InputError, match="neither side was watched"):
        lamp_report({"left_watched": "no", "right_watched": "no"}, weapon_at("foil"))


def test_a_lamp_cannot_do_what_no_lamp_does() -> None:
    with pytest.raises(InputError, match="not a way a lamp"):
        lamp_report({"left_white": "sings"}, weapon_at("foil"))


def test_a_trial_of_ones_own_has_only_what_was_filled_in() -> None:
    form = {"press": "left", "on": "right lamé front", "move": "", "looked": "yes", "left_coloured": "steady", "times": "3"}
    table = own_trial(form, weapon_at("foil"))
    assert table.model_dump(exclude_defaults=True) == {
        "press": "left",
        "on": "right lamé front",
        "times": 3,
        "saw": ("left coloured", "left no yellow", "right nothing"),
    }
    measured = {"meter_a": "left weapon point", "meter_b": "left weapon guard", "reads": "1.6"}
    assert own_trial(measured, weapon_at("foil")).saw == ()


def test_a_test_box_of_ones_own_says_which_pairs_lit() -> None:
    form = {"boxed": "left cord", "box_A-B": "", "box_B-C": "flickers", "box_A-C": "steady"}
    assert (own_trial(form, weapon_at("foil")).box, own_trial(form, weapon_at("foil")).lights) == (
        "left cord",
        ("B-C flickers", "A-C"),
    )
    assert own_trial({"boxed": "left cord"}, weapon_at("foil")).lights == ("nothing",)
    assert own_trial({"box_A-B": "steady"}, weapon_at("foil")).lights == (), "there is nothing in the box"
    with pytest.raises(InputError, match="of a test box"):
        box_report({"box_A-B": "before"})


def test_a_number_of_times_that_is_none_is_refused() -> None:
    with pytest.raises(InputError, match="times"):
        own_trial({"looked": "yes", "times": "many"}, weapon_at("foil"))
