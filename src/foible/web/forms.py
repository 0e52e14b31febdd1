"""Forms in; out, which lamps were touched, and trials of the user's own."""

from __future__ import annotations

from typing import TYPE_CHECKING

from pydantic import ValidationError

from foible.errors import InputError
from foible.kit import SIDES
from foible.trials import TrialTable

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.kit import Weapon, WeaponLamp

__all__ = ["box_report", "lamp_report", "own_trial"]

MANNERS = {"steady": "", "flickers": " flickers", "sometimes": " sometimes", "before": " all along"}
OUT = "out"
"""What a form says of an optional lamp that was looked at and stayed dark."""
_CHOSEN = {"press": "press", "cut": "cut", "on": "on", "reads": "reads", "note": "note"}
_LISTED = ("unplugged", "swapped", "move", "examine", "found")


def lamp_report(form: Mapping[str, str], weapon: Weapon) -> tuple[str, ...]:
    """Return what was seen, as a case file says it. Raises InputError where it makes no sense.

    A lamp that was not touched was dark; one that an apparatus need not have only where the form says that it is `there`.
    """
    watched = [side for side in SIDES if form.get(f"{side}_watched", "yes") != "no"]
    phrases: list[str] = []
    for side in watched:
        given = [(lamp, form.get(f"{side}_{lamp.word}", "")) for lamp in weapon.lamps]
        out = {lamp for lamp, manner in given if lamp.optional and (manner == OUT or (not manner and form.get("there") == "yes"))}
        given = [(lamp, "" if manner == OUT else manner) for lamp, manner in given]
        lit = [lamp for lamp, manner in given if manner]
        for lamp, manner in given:
            if not manner:
                continue
            if manner not in MANNERS:
                raise InputError(seen=f"“{manner}” is not a way a lamp can light", remedy=f"use {', '.join(MANNERS)}")
            phrases.append(f"{side} {lamp.word}{MANNERS[manner]}")
        if not lit:
            phrases.append(f"{side} nothing")
        else:
            phrases += _dark(side, lit, weapon)
        phrases += [f"{side} no {lamp.word}" for lamp in weapon.lamps if lamp in out]
    if not phrases:
        raise InputError(seen="neither side was watched", remedy="touch the lamps that lit, or say that nothing did")
    return tuple(phrases)


def _dark(side: str, lit: Sequence[WeaponLamp], weapon: Weapon) -> list[str]:
    """Return the lamps of a side that stayed dark while others lit, where that says something.

    A lit lamp says enough about the others of its group; a dark lamp that an apparatus need not have says nothing.
    """
    groups = {lamp.group for lamp in lit}
    return [f"{side} no {lamp.word}" for lamp in weapon.lamps if lamp.group not in groups and not lamp.optional]


def box_report(form: Mapping[str, str]) -> tuple[str, ...]:
    """Return what lit on a test box, as a case file says it: pairs of lines and how they lit. Raises InputError."""
    lit = {key.removeprefix("box_"): manner for key, manner in form.items() if key.startswith("box_") and manner}
    wrong = next((manner for manner in lit.values() if manner not in MANNERS or manner == "before"), None)
    if wrong:
        raise InputError(seen=f"“{wrong}” is not a way a lamp of a test box can light", remedy="use steady, flickers, sometimes")
    return tuple(f"{pair}{MANNERS[manner]}" for pair, manner in lit.items()) or ("nothing",)


def own_trial(form: Mapping[str, str], weapon: Weapon) -> TrialTable:
    """Return the trial that a form of the user's own describes. Raises InputError."""
    keys: dict[str, object] = {key: form[name].strip() for name, key in _CHOSEN.items() if form.get(name, "").strip()}
    keys |= {key: (form[key],) for key in _LISTED if form.get(key)}
    if form.get("touch_a") and form.get("touch_b"):
        keys["touching"] = (f"{form['touch_a']} on {form['touch_b']}",)
    if form.get("meter_a") and form.get("meter_b"):
        keys["meter"] = (form["meter_a"], form["meter_b"])
    if form.get("boxed"):
        keys |= {"box": form["boxed"], "lights": box_report(form)}
    if form.get("times", "1").strip() not in ("", "1"):
        keys["times"] = form["times"].strip()
    if form.get("looked") == "yes":
        keys["saw"] = lamp_report(form, weapon)
    try:
        return TrialTable.model_validate(keys)
    except ValidationError as error:
        first = error.errors()[0]
        place = " ".join(str(step) for step in first["loc"])
        raise InputError(seen=f"“{place}” cannot be {first['input']!r}", remedy=first["msg"].lower()) from error
