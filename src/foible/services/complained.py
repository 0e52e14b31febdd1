"""What fencers say of a weapon in; out, what of it a field card begins with, in a place where some facts are known."""

from __future__ import annotations

from typing import TYPE_CHECKING

from foible.diagnosis import Complained
from foible.facts import METAL_PISTE, ORANGE_LAMPS
from foible.kit import SIDES
from foible.trials import Group, load_complaints, read_trial

if TYPE_CHECKING:
    from collections.abc import Sequence

    from foible.kit import Setup
    from foible.trials import Trial

__all__ = ["complained"]

PISTE = "piste"


def complained(setup: Setup, facts: Sequence[str]) -> tuple[Complained, ...]:
    """Return the complaints about a weapon, without those about a metal piste or orange lamps that nobody has spoken of."""
    sides = [[(each.say, read_trial(setup, each.table)[0]) for each in load_complaints(setup, side)] for side in SIDES]
    pairs = [Complained(say, shown, turned) for (say, shown), (_, turned) in zip(*sides, strict=True)]
    optional = any(lamp.optional for lamp in setup.kind.lamps) and ORANGE_LAMPS not in facts
    return tuple(
        each
        for each in pairs
        if not (optional and _about_earth_lamp(each.shown)) and (METAL_PISTE in facts or each.shown.arrangement.on != PISTE)
    )


def _about_earth_lamp(trial: Trial) -> bool:
    """Return whether a report is that the lamp of an earthed line was lit."""
    looks = trial.seen.looks if trial.seen else {}
    return any(group is Group.YELLOW and (0, 0) not in allowed for (_, group), allowed in looks.items())
