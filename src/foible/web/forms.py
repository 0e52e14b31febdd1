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

__all__ = ["lamp_report", "own_trial"]

MANNERS = {"steady": "", "flickers": " flickers", "sometimes": " sometimes", "before": " all along"}
_CHOSEN = {"press": "press", "cut": "cut", "on": "on", "reads": "reads", "note": "note"}
_LISTED = ("unplugged", "swapped", "move", "examine", "found")


def lamp_report(form: Mapping[str, str], weapon: Weapon) -> tuple[str, ...]:
    """Return what was seen, as a case file says it. Raises InputError where it makes no sense."""
    watched = [side for side in SIDES if form.get(f"{side}_watched", "yes") != "no"]
    phrases: list[str] = []
    for side in watched:
        given = [(lamp, form.get(f"{side}_{lamp.word}", "")) for lamp in weapon.lamps]
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
    if not phrases:
        raise InputError(seen="neither side was watched", remedy="touch the lamps that lit, or say that nothing did")
    return tuple(phrases)


def _dark(side: str, lit: Sequence[WeaponLamp], weapon: Weapon) -> list[str]:
    """Return the lamps of a side that stayed dark while others lit, where that says something.

    A lit lamp says enough about the others of its group; a dark lamp that an apparatus need not have says nothing.
    """
    groups = {lamp.group for lamp in lit}
    return [f"{side} no {lamp.word}" for lamp in weapon.lamps if lamp.group not in groups and not lamp.optional]


def own_trial(form: Mapping[str, str], weapon: Weapon) -> TrialTable:
    """Return the trial that a form of the user's own describes. Raises InputError."""
    keys: dict[str, object] = {key: form[name].strip() for name, key in _CHOSEN.items() if form.get(name, "").strip()}
    keys |= {key: (form[key],) for key in _LISTED if form.get(key)}
    if form.get("touch_a") and form.get("touch_b"):
        keys["touching"] = (f"{form['touch_a']} on {form['touch_b']}",)
    if form.get("meter_a") and form.get("meter_b"):
        keys["meter"] = (form["meter_a"], form["meter_b"])
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
