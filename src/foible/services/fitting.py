"""What a kept case is called and what is fitted on its sides, in; the case with it out, kept where the kit has such a thing."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.errors import InputError, ProblemsError, UnknownNameError
from foible.kit import SIDES, load_setup, slots_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from foible.kit import Slot
    from foible.records import KeptCase
    from foible.services.cases import Cases
    from foible.services.reasoning import Reasoning

    Fitted = Mapping[str, Mapping[str, str]]

__all__ = ["checked_fitting", "describe", "fitted_named", "slots_in"]


def slots_in(cases: Cases, kept: KeptCase) -> tuple[Slot, ...]:
    """Return the slots of a case for which there is a choice; none where the kit does not have its weapon."""
    try:
        return slots_of(cases.weapon(kept), cases.reasoning.overlays)
    except UnknownNameError:
        return ()


def describe(  # noqa: PLR0913 — what the head of a case can be given
    cases: Cases,
    name: str,
    *,
    title: str | None = None,
    piste: str | None = None,
    fencer: str | None = None,
    fitted: Fitted | None = None,
) -> KeptCase:
    """Say what a case is called, where it is, whose kit it is and what is fitted, all of it or nothing; what is None stays.

    `fitted` is the model by side and slot; a slot that is left out stays, and an empty model is the usual one. Trials that name
    what is no longer there stay in the case and are marked. Raises UnknownNameError and InputError.
    """
    whole = None
    if fitted:
        kept = cases.store.case(name)
        whole = checked_fitting(cases.reasoning, cases.weapon(kept), fitted, before=kept.fitted)
    return cases.store.describe(name, title=title, piste=piste, fencer=fencer, fitted=whole)


def checked_fitting(
    reasoning: Reasoning, weapon: str, given: Fitted, *, before: Fitted | None = None
) -> dict[str, dict[str, str]]:
    """Return all that is not fitted as usual once `given` is, in place of what was fitted `before`.

    Raises UnknownNameError, and InputError for a model that is made for something else.
    """
    usual = {slot.name: slot.usual for slot in slots_of(weapon, reasoning.overlays)}
    strange = next((side for side in given if side not in SIDES), None)
    if strange is not None:
        raise UnknownNameError(what="side", name=strange, known=SIDES)
    whole = {}
    for side in SIDES:
        slots = {**(before or {}).get(side, {}), **given.get(side, {})}
        whole[side] = {slot: model for slot, model in slots.items() if model and model != usual.get(slot)}
    try:
        load_setup(weapon, fitted=whole, overlays=reasoning.overlays)
    except ProblemsError as error:
        raise InputError(seen="that does not fit", remedy=f"name another model; {error.problems[0]}") from error
    return {side: slots for side, slots in whole.items() if slots}


def fitted_named(fittings: Sequence[str]) -> dict[str, dict[str, str]]:
    """Return what phrases such as “left socket bayonet” say is fitted, as model by side and slot. Raises InputError."""
    found: dict[str, dict[str, str]] = {}
    for words in fittings:
        match words.replace("=", " ").split():
            case [side, slot, model]:
                found.setdefault(side, {})[slot] = model
            case _:
                raise InputError(seen=f"“{words}” is not a fitting", remedy="write side, slot and model: left socket bayonet")
    return found
